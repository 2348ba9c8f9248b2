module rowdatum

go 1.26.0

require (
	github.com/jhump/protoreflect/v2 v2.0.0 // indirect
	google.golang.org/genproto/googleapis/api v0.0.0-20261026165753-2ffab32bce7e // indirect
	google.golang.org/protobuf v1.36.12 // indirect
)

// Package api is the gRPC surface: it turns protos into the job's words and back, and calls the flow.
// It computes nothing. status.go is the only file that knows codes.
package api

# rowdatum. `make help` lists the targets.
.DEFAULT_GOAL := help

proto: ## Lint, format and regenerate everything in proto/gen (needs Node)
	cd proto && npm ci --no-audit --no-fund
	go run -modfile=.ci/proto.mod -tags protoimports ./proto/imports proto/.imports
	cd proto && npx buf format -w --path rowdatum && npx buf lint && npx buf generate
	go run ./proto/openapi proto/gen/rowdatum/v1 proto/gen/openapi.json

help: ## This list
	@awk -F ':.*## ' '/^[a-z-]+:.*## /{printf "  %-10s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

.PHONY: proto help

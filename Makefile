# rowdatum. `make help` lists the targets.
.DEFAULT_GOAL := help
SHELL := /bin/bash

# Programs are linked without symbol tables: an adjuster's checksum is taken at every start.
GO_BUILD := go build -ldflags='-s -w'
# The race detector wants a C compiler.
RACE := $(shell command -v $$(go env CC) >/dev/null 2>&1 && echo -race)

# Packages whose tests start programs, fill disks or simulate a whole shop: make quick leaves them out.
WHOLE := /cmd/rowdatumd$$|/clients/cli$$|/clients/go$$|/clients/prove/|/adjusters/adjustertest$$|/internal/(adjusters|store|hooks|house)$$

# Packages of one goroutine, simulations most of them: the race detector can find nothing there, and takes four times as long.
ALONE := /server/leveling/(alike|dig|emergence|estimate|job|study|wear|worth)$$|/clients/prove/internal/(coverage|optimum)$$

# Prints what go test says, and at the end which tests were skipped, and why.
REPORT := go run .ci/tests/main.go

BIN := bin
build: ## Build the programs into bin/
	$(GO_BUILD) -o $(BIN)/rowdatumd ./server/cmd/rowdatumd
	$(GO_BUILD) -o $(BIN)/rowdatum ./clients/cli
	mkdir -p $(BIN)/adjusters
	$(GO_BUILD) -o $(BIN)/adjusters/ ./adjusters/...
	chmod -R go-w $(BIN)/adjusters

demo: build ## Start the service, plan an invented planter through HTTP, serve until Ctrl-C
	@dir=$$(mktemp -d); bin/rowdatumd --grpc 127.0.0.1:0 --http 127.0.0.1:0 --store $$dir/demo.db --addr-file $$dir/addr --log warn & service=$$!; \
	trap 'kill $$service 2>/dev/null; wait $$service; rm -rf $$dir' EXIT; \
	until [ -s $$dir/addr ]; do kill -0 $$service 2>/dev/null || exit 1; sleep 0.1; done; \
	bin/rowdatum --service "http://$$(sed 's/.*"http":"\([^"]*\)".*/\1/' $$dir/addr)" demo && wait $$service

quick: ## Pure, golden and table tests: under two minutes with a warm build cache
	set -o pipefail; go test -json $$(go list ./... | grep -vE '$(WHOLE)') | $(REPORT)

# Recipes below say make and not $(MAKE): make -n would run the latter.
test: check-race check-proto check-licences stories ## All tests: what CI runs; writes nothing into the tree
	set -o pipefail; programs=$$(mktemp -d) && trap 'rm -rf "$$programs"' EXIT && \
	make --no-print-directory build BIN="$$programs" && export ROWDATUM_BIN="$$programs" && \
	{ go test -json -count=1 $$(go list ./... | grep -E '$(ALONE)') && \
	.ci/postgres with go test -json -count=1 $(RACE) $$(go list ./... | grep -vE '$(ALONE)'); } | $(REPORT)

# The same stories, to the byte, whichever way the processor multiplies and adds.
stories: ## The golden stories under three kinds of arithmetic
	go test -run Stories ./server/leveling/...
	GODEBUG=cpu.fma=off go test -count=1 -run Stories ./server/leveling/...
	@if [ "$$(go env GOARCH)" != amd64 ] || grep -qw fma /proc/cpuinfo; then \
	  echo GOAMD64=v3 go test -run Stories ./server/leveling/...; GOAMD64=v3 go test -run Stories ./server/leveling/...; \
	else .ci/absent "a processor with fused multiply-add: the golden stories were not checked with it"; fi

check-race:
	@if [ -z "$(RACE)" ]; then .ci/absent "a C compiler: the race detector is off"; fi

check-proto: ## Contracts linted, nothing promised broken, generated code fresh (needs Node)
	@if ! command -v npm >/dev/null; then .ci/absent "Node: contracts and generated code were not checked"; exit; fi; \
	copy=$$(mktemp -d) && trap 'rm -rf "$$copy"' EXIT && \
	tar -cf - --exclude node_modules Makefile go.mod go.sum .ci proto clients/js/shapes.d.ts | tar -xf - -C "$$copy" && \
	make --no-print-directory -C "$$copy" proto && \
	diff -r -q -x node_modules -x .imports proto "$$copy/proto" && diff -q clients/js/shapes.d.ts "$$copy/clients/js" || \
	{ echo "proto or clients/js/shapes.d.ts is not what 'make proto' writes: run it, and commit what it wrote"; exit 1; }

check-licences: ## Every dependency's licence is one that is allowed, and the lists of them are fresh
	go run -modfile=.ci/licences.mod .ci/licences/main.go --check

licences: ## List the dependencies with their licences in gateway/docs/licences.md and bom.json
	go run -modfile=.ci/licences.mod .ci/licences/main.go

lint: ## gofmt, vet, staticcheck
	@unformatted=$$(gofmt -l $$(git ls-files '*.go')); if [ -n "$$unformatted" ]; then echo "not formatted: $$unformatted"; exit 1; fi
	go vet ./...
	go tool -modfile=.ci/lint.mod staticcheck ./...

page: build ## The page in a real browser, types checked (needs Node 20, Chromium and poppler-utils)
	@for program in npm $${CHROMIUM:-chromium} pdftoppm; do command -v $$program >/dev/null || { .ci/absent "$$program: the page was not tried in a browser"; exit; }; done; \
	cd clients/page/test && npm ci --no-audit --no-fund --loglevel=error && npm test

pictures: export ROWDATUM_PICTURES = gateway/docs/screens
pictures: page ## The same, and its pictures go to gateway/docs/screens

clients: build ## The client for JavaScript, the description of the API linted, a client generated from it (needs Node 20)
	@if ! command -v npm >/dev/null; then .ci/absent "Node: the client for JavaScript and the description of the API were not tried"; exit; fi; \
	cd clients/js/test && npm ci --no-audit --no-fund --loglevel=error && npm test

crash: ## Kill the service hard 200 times under load, on SQLite and PostgreSQL
	ROWDATUM_CRASH_ROUNDS=200 .ci/postgres with go test -count=1 -timeout 60m -run Crash ./server/cmd/rowdatumd

bench: ## Benchmarks as ratios against a bare baseline of the same run; kept in gateway/docs/bench.md
	set -o pipefail; .ci/postgres with go test -timeout 60m -run '^$$' -bench . -benchmem ./server/... ./gateway/... ./adjusters/... | tee /dev/stderr \
	| go run ./clients/prove --pictures gateway/docs/bench bench | tee gateway/docs/bench.md

prove: build ## What the README claims, shown from outside, 40 minutes; kept in gateway/docs/prove.md (needs glpk-utils and PostgreSQL)
	@command -v glpsol >/dev/null || { echo "glpsol is not installed (Debian: glpk-utils)"; exit 1; }
	set -o pipefail; go run ./clients/prove --pictures gateway/docs/prove | tee gateway/docs/prove.md

fuzz: ## Every fuzz target for 20 s
	.ci/fuzz 20s

proto: ## Lint the contracts, refuse broken promises, regenerate proto/gen and clients/js/shapes.d.ts (needs Node)
	@cd proto && npm ci --no-audit --no-fund --loglevel=error
	go run -modfile=.ci/proto.mod proto/imports/main.go proto/.imports
	cd proto && npx buf format -w --path rowdatum && npx buf lint && { [ ! -e promised.binpb ] || npx buf breaking --against promised.binpb; } && npx buf generate
	go run ./proto/openapi proto/gen/rowdatum/v1 proto/gen/openapi.json
	go run ./proto/shapes proto/gen/openapi.json clients/js/shapes.d.ts
	cd proto && npx buf build --exclude-source-info -o promised.binpb

clean: ## Remove what was built
	rm -rf bin

help: ## This list
	@awk -F ':.*## ' '/^[a-z-]+:.*## /{printf "  %-12s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

.PHONY: build demo quick test stories check-race check-proto check-licences licences lint page pictures clients crash bench prove fuzz proto clean help

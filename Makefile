# Platebook. `make demo` runs the main job; `make test` passes on a fresh machine.
GO      ?= go
ORACLES := internal/oracle/node
# The race detector needs a C compiler; the program itself never does.
RACE    := $(if $(shell command -v gcc),-race)

.PHONY: all build demo setup test lint cross bench fuzz clean

all: build

build:
	CGO_ENABLED=0 $(GO) build -trimpath -o build/platebook ./cmd/platebook

demo: build
	build/platebook demo --out build/demo

# What tests are held against. Skips what is there already.
setup: $(ORACLES)/node_modules/.package-lock.json
	@tools/setup

$(ORACLES)/node_modules/.package-lock.json: $(ORACLES)/package-lock.json
	cd $(ORACLES) && npm ci --ignore-scripts --no-audit --no-fund

test: setup
	$(GO) test $(RACE) ./...

lint: cross
	@tools/fused
	@test -z "$$(gofmt -l cmd desk engine internal *.go)" || { gofmt -l cmd desk engine internal *.go; echo "gofmt these"; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) mod tidy -diff

cross:
	@for os in linux windows darwin; do for arch in amd64 arm64; do \
		echo "build $$os/$$arch"; CGO_ENABLED=0 GOOS=$$os GOARCH=$$arch $(GO) build -o /dev/null ./cmd/platebook || exit 1; done; done

# Figures that matter, as ratios made in one run.
bench: setup build
	$(GO) test -run '^$$' -bench . -benchtime 3x ./internal/bench
	$(GO) test -run '^$$' -bench . ./engine/...

# A minute on each fuzz target.
fuzz:
	@tools/fuzz

clean:
	rm -rf build

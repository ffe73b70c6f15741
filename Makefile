# Platebook. `make demo` runs the main job; `make test` passes on a fresh machine.
GO      ?= go
ORACLES := internal/oracle/node
FRONT   := desk/web/front
# The race detector needs a C compiler; the program itself never does.
RACE    := $(if $(shell command -v gcc),-race)

.PHONY: all front build demo setup test lint cross bench fuzz kill load clean

all: build

build: front
	CGO_ENABLED=0 $(GO) build -trimpath -o build/platebook ./cmd/platebook

demo: build
	build/platebook demo --folder build/demo

# What browsers load: our stylesheet and scripts and what they stand on, put
# together into the program. Without Node.js and npm the pages are plain.
front: desk/web/dist/names.json

desk/web/dist/names.json: $(FRONT)/package-lock.json $(wildcard $(FRONT)/*.js desk/web/style/*.css tools/bundle/*.go)
	@if ! command -v npm >/dev/null; then echo "front: npm is not installed: pages will have no style and no 3D view" >&2; exit 0; fi; \
	test -L $(FRONT)/node_modules || cmp -s $(FRONT)/package-lock.json $(FRONT)/node_modules/.lock-used || \
		{ cd $(FRONT) && npm ci --ignore-scripts --no-audit --no-fund && cp package-lock.json node_modules/.lock-used && cd - >/dev/null; } && \
	$(GO) run ./tools/bundle

# What tests are held against. Skips what is there already.
setup: $(ORACLES)/node_modules/.package-lock.json
	@tools/setup

$(ORACLES)/node_modules/.package-lock.json: $(ORACLES)/package-lock.json
	cd $(ORACLES) && npm ci --ignore-scripts --no-audit --no-fund

# Properties are tried on the same cases each time, so that a change is judged and
# not its luck; `make fuzz` draws others, and so does RAPID_SEED=0.
test: setup front
	RAPID_SEED=$${RAPID_SEED:-1} $(GO) test $(RACE) -timeout 30m ./...

lint: cross
	@tools/fused
	@test -z "$$(gofmt -l cmd desk engine internal tools *.go)" || { gofmt -l cmd desk engine internal tools *.go; echo "gofmt these"; exit 1; }
	$(GO) vet ./...
	GOOS=windows $(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) mod tidy -diff

cross: front
	@for os in linux windows darwin; do for arch in amd64 arm64; do \
		echo "build $$os/$$arch"; CGO_ENABLED=0 GOOS=$$os GOARCH=$$arch $(GO) build -o /dev/null ./cmd/platebook || exit 1; done; done

# Figures that matter, as ratios made in one run.
bench: setup build
	$(GO) test -run '^$$' -bench . -benchtime 3x ./internal/bench
	$(GO) test -run '^$$' -bench . ./engine/...

# The program killed a hundred times while people are at it, and ten times on
# PostgreSQL; `make test` does it a few times. PLATEBOOK_SEED=2 begins from other chance.
kill: front
	PLATEBOOK_KILLS=100 $(GO) test -count=1 -timeout 60m -v -run TestKilledAtAnyMoment ./cmd/platebook

# Fifty patrons at once while staff work. What it found stands in docs/withstands.md.
load: build
	$(GO) run ./tools/load

# A minute on each fuzz target, and ten thousand cases of each property.
fuzz:
	@tools/fuzz

clean:
	rm -rf build desk/web/dist/*

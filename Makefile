# A list of commands: every recipe can be copied into a shell as it stands.
# `make demo` and `make test` are each enough on a fresh Debian 12. Only `setup` uses the network.

VENV   := .venv
BIN    := $(VENV)/bin
PYTHON ?= $(firstword $(wildcard /usr/bin/python3) python3)
SUDO   := $(if $(filter 0,$(shell id -u)),,sudo)

PACKAGES := build-essential cmake ninja-build libeigen3-dev libboost-dev nlohmann-json3-dev catch2 python3-venv python3-dev calculix-ccx
# Only for the lesson: `make test` does without.
WEB_PACKAGES := emscripten node-acorn nodejs
# Only for the tests of its page.
PAGE_PACKAGES := chromium
# Only for `make fuzz`.
FUZZ_PACKAGES := clang libclang-rt-14-dev
# How long each program runs, and on what; what it finds interesting stays in build/fuzz.
FUZZ_SECONDS := 600
FUZZ_SEEDS := $(wildcard tests/reference/*_cases tests/reference/schema_corpus)
# An installed core that the Python package may use; empty: the package builds its own.
CORE     :=
# The case that `make fmu` packs.
CASE     := bindings/libblade/cases/folding_carton_water.json
ENGINE   := bindings/libblade/page/engine.js
SOURCES  := CMakeLists.txt pyproject.toml $(shell find libblade bindings -type f -not -name "*.pyc" -not -name engine.js)

# A compiler cache, where one is installed: the library and the module are compiled by `build`, `package` and `test` alike. What
# is there to be compiled (sanitizers, `reproducible`) goes without.
export CMAKE_CXX_COMPILER_LAUNCHER ?= $(shell command -v ccache)
export CCACHE_DIR ?= $(CURDIR)/build/ccache
export CCACHE_BASEDIR ?= $(CURDIR)
test-sanitized test-threads fuzz reproducible $(ENGINE): export CCACHE_DISABLE := 1

export LC_ALL := C.UTF-8
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.DEFAULT_GOAL := help
.PHONY: help setup build demo test test-sanitized lint stubs check-stubs package finite-elements bench notebook web lesson test-lesson fmu test-fmu docs validation clean reproducible mutants test-threads fuzz campaign

help:  ## what there is to make
	@sed -n 's/^\([a-z-]*\):.*## /  make \1\t/p' Makefile

setup: $(VENV)/.ready  ## system packages that are missing, and .venv (the only step that uses the network)

$(VENV)/.packages $(VENV)/.web-packages $(VENV)/.page-packages $(VENV)/.fuzz-packages: $(VENV)/.%:
	@missing=""; for package in $(if $(filter web%,$*),$(WEB_PACKAGES),$(if $(filter page%,$*),$(PAGE_PACKAGES),$(if $(filter fuzz%,$*),$(FUZZ_PACKAGES),$(PACKAGES)))); do \
	    dpkg-query -W -f='$${db:Status-Status}\n' $$package 2>/dev/null | grep -qx installed || missing="$$missing $$package"; done; \
	if [ -n "$$missing" ]; then \
	    echo "installing$$missing"; \
	    $(SUDO) apt-get update -qq && \
	    $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -qq --yes --no-install-recommends $$missing; fi
	@mkdir -p $(VENV) && touch $@

$(VENV)/.ready: pyproject.toml | $(VENV)/.packages
	test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade pip
	$(BIN)/python -m pip install --quiet --group dev
	touch $@

build: $(VENV)/.installed  ## the Python package, installed in .venv

$(VENV)/.installed: $(SOURCES) | $(VENV)/.ready
	PIP_NO_INDEX=1 $(BIN)/python -m pip install --quiet --no-build-isolation --force-reinstall --no-deps \
	    --config-settings=cmake.define.LIBBLADE_CORE=$(CORE) .
	touch $@

demo: build  ## the maps and the recommended setting, with pictures in out/
	$(BIN)/python examples/python/demo.py

test: $(VENV)/.ready  ## C++ tests, the installed library in use, Python tests and notebooks
	cmake --preset release
	cmake --build --preset release --target all --target libblade_c
	cmake --install build/release --prefix build/core --component libblade > build/install.log
	$(MAKE) --no-print-directory build CORE=$(CURDIR)/build/core
	ctest --preset release
	$(BIN)/python -m pytest --numprocesses=2 --dist=worksteal

test-sanitized: $(VENV)/.packages  ## the C++ tests under address and undefined-behaviour sanitizers
	cmake --preset sanitize
	cmake --build --preset sanitize
	ctest --preset sanitize

test-threads: $(VENV)/.packages  ## what may be called at once, under the thread sanitizer
	cmake --preset threads
	cmake --build --preset threads
	ctest --preset threads

fuzz: $(VENV)/.fuzz-packages  ## bytes of libFuzzer's choice into every reader; FUZZ_SECONDS=20 for a short run
	cmake --preset fuzz
	cmake --build --preset fuzz
	mkdir -p $(patsubst tests/fuzz/%.cpp,build/fuzz/corpus/%,$(wildcard tests/fuzz/fuzz_*.cpp))
	ls build/fuzz/corpus | grep '^fuzz_[a-z]*$$' | xargs -P2 -I@ env build/fuzz/tests/fuzz/@ -dict=build/fuzz/tests/fuzz/words.dict \
	    -max_total_time=$(FUZZ_SECONDS) -print_final_stats=1 -artifact_prefix=build/fuzz/corpus/@- build/fuzz/corpus/@ $(FUZZ_SEEDS)

lint: $(VENV)/.ready  ## formats, types, and floors 0 to 5 with em++ (tools that are not installed are named and left out)
	@if command -v clang-format; then clang-format --dry-run -Werror \
	    $$(find libblade bindings tests examples -name '*.[ch]pp'); else echo "clang-format is not installed: left out"; fi
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	@if command -v em++; then mkdir -p build/include && ln -sfn /usr/include/boost build/include/boost; \
	    ls libblade/src/*.cpp | grep -Ev '/(case_file|schema|sweep|window|risk|evaluate|lesson|c_interface)' | \
	    xargs -P2 -n6 em++ -std=c++20 -fsyntax-only -Wall -Wextra -Werror -Ilibblade/include \
	    -isystem build/include -isystem /usr/include/eigen3; \
	else echo "em++ is not installed: left out"; fi

stubs: build  ## writes bindings/libblade/_core.pyi from the built module
	$(BIN)/python bindings/stubs.py

check-stubs: build  ## compares it with the built module
	$(BIN)/python bindings/stubs.py --check

package: $(VENV)/.ready  ## sdist, wheel from it, and its use in a bare venv and an empty folder
	$(BIN)/python -m pytest tests/packaging

reproducible: $(VENV)/.ready  ## what `make package` does, and everything compiled once more elsewhere: the same bytes
	cmake --preset release
	ctest --preset release -C full --tests-regex subproject
	LIBBLADE_REPRODUCIBLE=1 $(BIN)/python -m pytest tests/packaging

web: $(ENGINE)  ## the core as WebAssembly for the lesson's page, put beside it

$(ENGINE): bindings/web/CMakeLists.txt $(wildcard bindings/web/*.cpp bindings/web/*.js) $(shell find libblade -type f) | $(VENV)/.packages $(VENV)/.web-packages
	NODE_PATH=/usr/share/nodejs emcmake cmake -S bindings/web -B build/web -G Ninja
	NODE_PATH=/usr/share/nodejs cmake --build build/web
	mkdir -p $(@D)
	cp build/web/engine.js $@

lesson: web build  ## out/lesson.html: what angle and pressure do at this nip, in any browser, without a network
	mkdir -p out
	$(BIN)/libblade lesson folding_carton_water --engine $(ENGINE) -o out/lesson.html

$(VENV)/.page-ready: pyproject.toml | $(VENV)/.ready $(VENV)/.page-packages
	$(BIN)/python -m pip install --quiet --group lesson
	touch $@

test-lesson: lesson $(VENV)/.page-ready  ## the engine against the native core, and the page in a browser
	$(BIN)/python -m pytest --numprocesses=2 --dist=worksteal tests/lesson

fmu: $(VENV)/.packages  ## out/nip.fmu: the nip with its wear for co-simulation (FMI 3.0); CASE=my_case.json packs another case
	cmake -S . -B build/fmu -G Ninja -DCMAKE_BUILD_TYPE=Release -DCMAKE_CXX_FLAGS_RELEASE="-O2 -DNDEBUG" -DLIBBLADE_FMU=ON \
	    -DLIBBLADE_TESTS=OFF -DLIBBLADE_PYTHON=OFF -DLIBBLADE_CORE=$(CORE) -DLIBBLADE_FMU_CASE=$(abspath $(CASE))
	cmake --build build/fmu --target fmu
	mkdir -p out
	cp build/fmu/nip.fmu out/nip.fmu

# An importer brings a build tool of its own: apart from .venv, whose packages it sees.
$(VENV)/.fmu-ready: pyproject.toml | $(VENV)/.ready
	test -x $(VENV)/fmu/bin/python || $(PYTHON) -m venv $(VENV)/fmu
	$(VENV)/fmu/bin/python -m pip install --quiet --upgrade pip
	$(VENV)/fmu/bin/python -m pip install --quiet --group fmu
	place='import sysconfig; print(sysconfig.get_path("purelib"))'; \
	    $(BIN)/python -c "$$place" > "$$($(VENV)/fmu/bin/python -c "$$place")/libblade.pth"
	touch $@

test-fmu: fmu build $(VENV)/.fmu-ready  ## that unit in an importer against the Python package
	$(VENV)/fmu/bin/python -m pytest tests/fmu

finite-elements: build  ## the blade against a general finite-element program, every case
	LIBBLADE_FINITE_ELEMENTS=all LIBBLADE_REQUIRE_FINITE_ELEMENTS=1 $(BIN)/python -m pytest tests/python/test_finite_elements.py

bench: build  ## timings, reported and never judged
	cmake --preset release
	cmake --build --preset release --target bench_bending --target bench_nip --target bench_wear \
	    --target bench_evaluate --target bench_rooms --target bench_work --target bench_solver
	build/release/tests/bench_rooms
	build/release/tests/bench_work
	$(BIN)/python tests/benchmarks/bench_bending.py build/release/tests/bench_bending
	OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python tests/benchmarks/bench_nip.py build/release/tests/bench_nip
	$(BIN)/python tests/benchmarks/bench_map.py
	build/release/tests/bench_wear
	build/release/tests/bench_solver
	$(BIN)/python tests/benchmarks/instructions.py build/release/tests/bench_solver
	build/release/tests/bench_evaluate

CASES ?= 1000000
SEED  ?= 1
campaign: $(VENV)/.packages  ## CASES random cases over hard and usual ranges, every answer checked anew; goes on where it stopped
	cmake --preset release
	cmake --build --preset release --target campaign
	mkdir -p out
	build/release/tests/campaign cases=$(CASES) seed=$(SEED) record=out/campaign-$(SEED).json table=out/campaign-$(SEED).md log=out/campaign-$(SEED).log

validation: build  ## published values and trends beside ours, in build/docs/validation.json; fails when one is not as known
	$(BIN)/python tests/validation/write.py build/docs/validation.json

mutants: build  ## breaks the physics on purpose, all mutants or MUTANTS="...", goes on where it ended: do the tests see it?
	$(BIN)/python tests/mutants/run.py --jobs $(or $(JOBS),2) --report $(MUTANTS)

$(VENV)/.docs: pyproject.toml | $(VENV)/.ready
	$(SUDO) apt-get update -qq
	$(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -qq --yes --no-install-recommends doxygen fonts-stix
	$(BIN)/python -m pip install --quiet --group docs
	touch $@

docs: build validation $(VENV)/.docs  ## the documentation, in build/docs/html; runs the notebooks; warnings are errors
	doxygen docs/Doxyfile
	$(BIN)/python -m sphinx -b html -W --keep-going -d build/docs/doctrees docs build/docs/html

notebook: build  ## opens the notebooks
	$(BIN)/python -m pip install --quiet jupyterlab ipywidgets anywidget
	$(BIN)/python -m jupyterlab notebooks

clean:  ## what was built; .venv and out/ stay
	rm -rf build dist $(VENV)/.installed

# make demo     set everything up and run the rehearsal of a whole check (ARGS="--aloud" plays it)
# make shop     set everything up and show the shop's page with a rehearsed fortnight and the demo's check
# make test     set everything up and run the tests
# make check    style, types, who may know whom, the data under grammars/
# make bench    print the benchmarks
# make clean    remove what the above made here (not the model, not your records)
# PYTHON=/path/to/python3.11 names another interpreter than python3.

.PHONY: demo shop test check bench clean
export PYTHON

demo:
	@sh .ci/setup demo
	@.venv/bin/kitcall demo $(ARGS)

shop:
	@sh .ci/setup demo
	@.venv/bin/kitcall shop --rehearsal $(ARGS)

test:
	@bash .ci/run $(ARGS)

check:
	@sh .ci/setup test
	.venv/bin/ruff check .
	.venv/bin/mypy --strict assistant audio hardware
	.venv/bin/lint-imports
	@set -e; for file in grammars/en/checks/*.toml; do echo "== $$file"; .venv/bin/kitcall sequence "$$file"; done

bench:
	@sh .ci/setup test
	@set -e; for bench in tests/bench/bench_*.py; do echo "== $$bench"; .venv/bin/python "$$bench" $(ARGS); done

clean:
	rm -rf .venv build *.egg-info .pytest_cache .mypy_cache .ruff_cache .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

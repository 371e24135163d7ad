"""Simulated supplies with a bath behind them. They import none of the product.

| want | take |
| --- | --- |
| a supply on a serial device or socket | `python -m simulators --scene NAME --link LINK` |
| the same inside a test, its time in the test's hand | `simulators.playing.playing` |
| a scene's readings with no wire between | `simulators.trace.trace` |
| a scene's readings as a CSV | `python -m simulators --scene NAME --csv FILE` |
| Modbus, or plain ASCII | `--link` with `--registers NAME`, or with `--speech NAME` |
| a bad day on the wire | `--faults FILE`, `--fault-rate SHARE`; see `simulators.fault` |
| every value to tell whose it is | `--tagged`, or `tagged=True`; `simulators.tags` reads them |
| a scene of your own | a TOML file; `simulators.scene` says how |

The scene begins with the first bytes that reach the supply. What the bath and the supply are at any
time depends on the scene, the seed and what somebody has set; never on when or how often they are
asked. Faults and paced lines go by the machine's time.
"""

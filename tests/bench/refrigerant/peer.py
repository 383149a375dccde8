"""Times CoolProp's low-level interface on the grids: microseconds per update, one JSON line. Needs only pip install CoolProp==8.0.0.

Usage: python peer.py GRIDS NAME... ; run by calls.test.ts where PEER_PYTHON names a Python that has it. The loop of Python itself is in the
figures: `overhead` is what the same loop costs with a call that does nothing."""
import csv, json, pathlib, sys, time
import CoolProp
from CoolProp import AbstractState, HmassP_INPUTS, PQ_INPUTS, PSmass_INPUTS, PT_INPUTS, QT_INPUTS

FLUIDS = {'R1233zdE': 'R1233zd(E)', 'R1234zeE': 'R1234ze(E)'}

def best(call, pair, states, rounds):
    least = float('inf')
    for _ in range(rounds):
        start = time.perf_counter()
        for a, b in states:
            call(pair, a, b)
        least = min(least, (time.perf_counter() - start) / len(states))
    return least * 1e6

def rows(path):
    with open(path) as file:
        return [{k: v if k == 'phase' else float(v) for k, v in row.items()} for row in csv.DictReader(file)]

grids = pathlib.Path(sys.argv[1])
out = {'version': CoolProp.__version__}
for name in sys.argv[2:]:
    state = AbstractState('HEOS', FLUIDS.get(name, name))
    line = rows(grids / f'{name}-saturation.csv')
    single = rows(grids / f'{name}-single-phase.csv')
    found = {'overhead': best(lambda *_: None, 0, [(r['T'], 1) for r in line], 200)}
    found['saturation of T'] = best(state.update, QT_INPUTS, [(1, r['T']) for r in line], 200)
    found['saturation of p'] = best(state.update, PQ_INPUTS, [(r['p'], 1) for r in line], 200)
    for phase in ('liquid', 'vapour'):
        some = [r for r in single if r['phase'] == phase]
        found[f'TP {phase}'] = best(state.update, PT_INPUTS, [(r['p'], r['T']) for r in some], 10)
        found[f'PH {phase}'] = best(state.update, HmassP_INPUTS, [(r['h'], r['p']) for r in some], 10)
        found[f'PS {phase}'] = best(state.update, PSmass_INPUTS, [(r['p'], r['s']) for r in some], 10)
    wet = [(r['h_liquid'] + q * (r['h_vapour'] - r['h_liquid']), r['p']) for r in line for q in (0.1, 0.5, 0.9)]
    found['PH two-phase'] = best(state.update, HmassP_INPUTS, wet, 10)
    wet = [(r['p'], r['s_liquid'] + q * (r['s_vapour'] - r['s_liquid'])) for r in line for q in (0.1, 0.5, 0.9)]
    found['PS two-phase'] = best(state.update, PSmass_INPUTS, wet, 10)
    out[name] = found
print(json.dumps(out))

"""Writes economizers.json beside this file: circuits with a subcooler and with three stages, calculated by hand-written balances with
CoolProp 8.0.0 (general-purpose reference library, MIT). Usage: python economizers.py; needs only pip install CoolProp==8.0.0. All SI.

Shares no code with the agent: states by CoolProp, flows from heat and mass balances written out here, efficiencies isentropic by stage."""
import json, pathlib
import CoolProp
from CoolProp.CoolProp import PropsSI

def compress(fluid, p, h, out, efficiency):
    ideal = PropsSI('H', 'P', out, 'S', PropsSI('S', 'P', p, 'H', h, fluid), fluid)
    return h + (ideal - h) / efficiency

def ends(fluid, evaporator, superheat, condenser, subcooling):
    pe, pc = PropsSI('P', 'T', evaporator, 'Q', 1, fluid), PropsSI('P', 'T', condenser, 'Q', 0, fluid)
    h1 = PropsSI('H', 'T', evaporator + superheat, 'P', pe, fluid) if superheat else PropsSI('H', 'P', pe, 'Q', 1, fluid)
    h3 = PropsSI('H', 'T', condenser - subcooling, 'P', pc, fluid) if subcooling else PropsSI('H', 'P', pc, 'Q', 0, fluid)
    return pe, pc, h1, h3

def subcooler(fluid, evaporator, superheat, middle, approach, gas, condenser, subcooling, efficiencies):
    pe, pc, h1, h3 = ends(fluid, evaporator, superheat, condenser, subcooling)
    pm = PropsSI('P', 'T', middle, 'Q', 1, fluid)
    h5 = PropsSI('H', 'T', middle + approach, 'P', pc, fluid)
    h7 = PropsSI('H', 'T', middle + gas, 'P', pm, fluid) if gas else PropsSI('H', 'P', pm, 'Q', 1, fluid)
    branch = (h3 - h5) / (h7 - h3)  # what the liquid gives up, the branch takes up
    h2 = compress(fluid, pe, h1, pm, efficiencies[0])
    h9 = (h2 + branch * h7) / (1 + branch)
    h10 = compress(fluid, pm, h9, pc, efficiencies[1])
    work = (h2 - h1) + (1 + branch) * (h10 - h9)
    return {'flows': {'vapour': branch}, 'h': {'1': h1, '2': h2, '3': h3, '5': h5, '6': h5, '7': h7, '9': h9, '10': h10},
            'work': work, 'effect': h1 - h5, 'rejected': (1 + branch) * (h10 - h3)}

def three_stages(fluid, evaporator, superheat, low, high, condenser, subcooling, efficiencies):
    pe, pc, h1, h3 = ends(fluid, evaporator, superheat, condenser, subcooling)
    p1, p2 = PropsSI('P', 'T', low, 'Q', 1, fluid), PropsSI('P', 'T', high, 'Q', 1, fluid)
    f1, g1 = (PropsSI('H', 'P', p1, 'Q', q, fluid) for q in (0, 1))
    f2, g2 = (PropsSI('H', 'P', p2, 'Q', q, fluid) for q in (0, 1))
    x2 = (h3 - f2) / (g2 - f2)  # of the condenser's liquid
    x1 = (f2 - f1) / (g1 - f1)  # of what the first tank passes on
    into_second = 1 / (1 - x1)
    whole = into_second / (1 - x2)
    v1, v2 = into_second * x1, whole * x2
    h2 = compress(fluid, pe, h1, p1, efficiencies[0])
    h14 = (h2 + v1 * g1) / (1 + v1)
    h15 = compress(fluid, p1, h14, p2, efficiencies[1])
    h9 = ((1 + v1) * h15 + v2 * g2) / (1 + v1 + v2)
    h10 = compress(fluid, p2, h9, pc, efficiencies[2])
    work = (h2 - h1) + (1 + v1) * (h15 - h14) + whole * (h10 - h9)
    return {'flows': {'vapour': v2, 'vapour_2': v1}, 'fractions': {'flash_tank': x2, 'flash_tank_2': x1},
            'h': {'1': h1, '2': h2, '3': h3, '5': f2, '6': f1, '7': g2, '9': h9, '10': h10, '12': f1, '13': g1, '14': h14, '15': h15},
            'work': work, 'effect': h1 - f1, 'rejected': whole * (h10 - h3)}

def single(fluid, evaporator, superheat, condenser, subcooling, efficiency):
    pe, pc, h1, h3 = ends(fluid, evaporator, superheat, condenser, subcooling)
    return (compress(fluid, pe, h1, pc, efficiency) - h1) / (h1 - h3)

cases = []
names = {'R134a': 'R134a', 'R1233zdE': 'R1233zd(E)', 'R123': 'R123', 'R1234zeE': 'R1234ze(E)'}
for name, fluid in names.items():
    for given in ((278.15, 0, 293.15, 3, 3, 310.15, 4, (0.8, 0.8)), (272.15, 2, 290.15, 5, 0, 313.15, 1, (0.78, 0.74))):
        keys = ('evaporator', 'superheat', 'middle', 'approach', 'gas', 'condenser', 'subcooling', 'efficiencies')
        cases.append({'arrangement': 'subcooler', 'refrigerant': name, **dict(zip(keys, given)), **subcooler(fluid, *given)})
    for given in ((278.15, 0, 288.15, 298.15, 310.15, 2, (0.8, 0.8, 0.8)), (272.15, 1, 284.15, 297.15, 313.15, 3, (0.8, 0.76, 0.7))):
        keys = ('evaporator', 'superheat', 'low', 'high', 'condenser', 'subcooling', 'efficiencies')
        cases.append({'arrangement': 'interstage', 'refrigerant': name, **dict(zip(keys, given)), **three_stages(fluid, *given)})
out = pathlib.Path(__file__).with_name('economizers.json')
out.write_text(json.dumps({'source': f'CoolProp {CoolProp.__version__}, economizers.py', 'cases': cases}, indent=1) + '\n')

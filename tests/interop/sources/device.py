"""A Modbus TCP device by pymodbus (Debian: python3-pymodbus): prints its port and its points as one line of JSON, then serves until ended."""
import asyncio
import json
import logging

from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext, ModbusSparseDataBlock
from pymodbus.payload import BinaryPayloadBuilder
from pymodbus.server.async_io import ModbusTcpServer
from pymodbus.transaction import ModbusSocketFramer

ORDERS = {"ABCD": (">", ">"), "CDAB": (">", "<"), "BADC": ("<", ">"), "DCBA": ("<", "<")}
VALUES = {
    "uint16": ("add_16bit_uint", [0, 1, 32768, 65535]),
    "int16": ("add_16bit_int", [-32768, -1, 0, 32767]),
    "uint32": ("add_32bit_uint", [0, 65536, 2147483648, 4294967295]),
    "int32": ("add_32bit_int", [-2147483648, -65537, -1, 2147483647]),
    "float32": ("add_32bit_float", [-40.25, 0.0078125, 812.5, 16777216.0]),
    "float64": ("add_64bit_float", [-1e-12, 3.141592653589793, 1e300]),
}


def unit_with_points(unit, points):
    tables = {"input": {}, "holding": {}, "coil": {}, "discrete": {}}
    register = 10 * unit
    for kind, (add, values) in VALUES.items():
        for order, (byte_order, word_order) in ORDERS.items():
            for i, value in enumerate(values):
                table = "input" if i % 2 == 0 else "holding"
                builder = BinaryPayloadBuilder(byteorder=byte_order, wordorder=word_order)
                getattr(builder, add)(value)
                words = builder.to_registers()
                for j, word in enumerate(words):
                    tables[table][register + j] = word
                address = {"unit": unit, "table": table, "register": register, "type": kind, "order": order}
                points.append({"name": f"{unit} {kind} {order} {value}", "address": address, "raw": value})
                register += len(words) + (i % 3)
    for table in ("coil", "discrete"):
        for i in range(30):
            bit = (i * i + unit) % 3 == 0
            tables[table][i * 5] = bit
            address = {"unit": unit, "table": table, "register": i * 5}
            points.append({"name": f"{unit} {table} {i}", "address": address, "raw": int(bit)})
    blocks = {short: ModbusSparseDataBlock(tables[table]) for short, table in
              (("ir", "input"), ("hr", "holding"), ("co", "coil"), ("di", "discrete"))}
    return ModbusSlaveContext(zero_mode=True, **blocks)


logging.disable(logging.CRITICAL)


async def main():
    points = []
    context = ModbusServerContext(slaves={unit: unit_with_points(unit, points) for unit in (1, 7)}, single=False)
    server = ModbusTcpServer(context, ModbusSocketFramer, None, ("127.0.0.1", 0))
    task = asyncio.create_task(server.serve_forever())
    await server.serving
    port = server.server.sockets[0].getsockname()[1]
    print(json.dumps({"port": port, "points": points}), flush=True)
    await task


asyncio.run(main())

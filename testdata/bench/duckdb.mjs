// What DuckDB takes, on one thread, to sum the hours of a weather table, and to
// read the columns of an EPW file whose types it is told.
//
//	node duckdb.mjs NODE_MODULES table DIR RUNS
//	node duckdb.mjs NODE_MODULES epw FILE RUNS
//
// prints the processor time of each run in ns, then the sums.
import { createRequire } from "node:module";
import { join } from "node:path";
import process from "node:process";

const [modules, what, path, runs] = process.argv.slice(2);
const { DuckDBInstance } = createRequire(join(modules, "x"))("@duckdb/node-api");

const quoted = (text) => `'${text.replaceAll("'", "''")}'`;
const hours = ["ghi_w_m2", "dni_w_m2", "dhi_w_m2", "air_temperature_c", "wind_speed_m_s", "sky_infrared_w_m2", "snow_depth_cm"];

// An EPW record: the uncertainty flags and the weather codes are text.
const text = new Set([5, 27]);
const fields = Array.from({ length: 35 }, (_, i) => `'c${i}': '${text.has(i) ? "VARCHAR" : i < 5 ? "INTEGER" : "DOUBLE"}'`);
const used = [6, 7, 8, 9, 12, 13, 14, 15, 21, 22, 23, 30];

const query = {
	table: () => `SELECT ${hours.map((c) => `sum(${c})`)} FROM ${quoted(join(path, "hours-*.parquet"))}`,
	epw: () =>
		`SELECT ${used.map((i) => `sum(c${i})`)} FROM read_csv(${quoted(path)}, auto_detect = false, header = false, skip = 8, delim = ',', quote = '', columns = {${fields}})`,
}[what]();

const db = await DuckDBInstance.create(":memory:", { threads: "1" });
const connection = await db.connect();
const times = [];
let sums;
for (let run = 0; run < Number(runs); run++) {
	const from = process.cpuUsage();
	const result = await connection.runAndReadAll(query);
	const took = process.cpuUsage(from);
	times.push((took.user + took.system) * 1000);
	sums = result.getRows()[0];
}
console.log([...times, ...sums].join(" "));

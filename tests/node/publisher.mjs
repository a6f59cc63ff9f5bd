// A publisher written in another language: what a sender that knows only the interface does.
//
// Reads one line of JSON from standard input: {"curve": {"publicKey", "secretKey"} or null}.
// Prints the endpoint it bound, waits for a subscriber, sends, and stays until its input ends.

import { createInterface } from "node:readline";
import { once } from "node:events";
import { encode } from "@msgpack/msgpack";
import { XPublisher } from "zeromq";

const T = 1932100000;
const SOURCE = "оптика-Ω";

const asMessagePack = (fields) => encode(fields);
const asJson = (fields) => JSON.stringify(fields);

// Whole numbers on purpose: JavaScript cannot tell 20.0 from 20.
const sample = (seq, changes = {}) => ({
  seq,
  t: T + seq / 4,
  range_m: 20,
  range_rate_mps: -0.25,
  y_m: 0,
  z_m: -1,
  roll_deg: 0.5,
  pitch_deg: 2,
  yaw_deg: -3,
  valid: seq !== 2,
  note: "станция · 港口 · 🛰",
  raw: [1, { nested: null }],
  ...changes,
});

const capture = {
  seq: 2 ** 40,
  t: T + 100,
  contact: true,
  ring_extension: 1,
  ready_to_hook: [true, false],
  hooks: [0, 0.5, 1],
  vestibule_kpa: 101,
  vestibule_degc: 21.5,
  rel_rate_mps: 0,
};

const turned = { ...sample(3), q: [1, 0, 0, 0] };
for (const name of ["roll_deg", "pitch_deg", "yaw_deg"]) delete turned[name];

const messages = [];
for (const pack of [asMessagePack, asJson]) {
  messages.push(
    [`rel/${SOURCE}`, pack(sample(1))],
    [`rel/${SOURCE}`, pack(sample(2, { y_rate_mps: 1, roll_rate_dps: 0.125 }))],
    [`rel/${SOURCE}`, pack(turned)],
    [`cap/${SOURCE}`, pack(capture)],
    [`hb/${SOURCE}`, pack({ t: T + 101, last_seq: 3 })],
    [`rel/${SOURCE}`, pack(sample(4, { range_m: NaN }))],
    ["end", pack({})],
  );
}

const lines = createInterface({ input: process.stdin });
const [line] = await once(lines, "line");
const { curve } = JSON.parse(line);

const socket = new XPublisher({ linger: 1000 });
if (curve) {
  socket.curveServer = true;
  socket.curvePublicKey = curve.publicKey;
  socket.curveSecretKey = curve.secretKey;
}
await socket.bind("tcp://127.0.0.1:*");
console.log(socket.lastEndpoint);

await socket.receive();
for (const [topic, payload] of messages) await socket.send([topic, payload]);

await once(lines, "close");
socket.close();

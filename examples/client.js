// Stand, walk and probe from JavaScript, with nothing but a WebSocket.
//   node --experimental-websocket examples/client.js ws://127.0.0.1:8443 [TOKEN]   (docs/protocol.md)
const [address, token] = process.argv.slice(2);
const socket = new WebSocket(`${address}/robot`);
const waiting = new Map(); // number -> what to do with its answer and its end
let heard = 0; // newest robot time: given back with every timed message
let number = 0, session = "", driving = false; // the number rises with every message

const send = (type, fields = {}) => socket.send(JSON.stringify({ type, ...fields }));

// Ask for something and wait for its answer; for a motion, wait until it has ended.
function ask(type, fields = {}, motion = false) {
  const n = ++number;
  send(type, { n, heard, ...fields });
  return new Promise((resolve, reject) => waiting.set(n, { resolve, reject, motion }));
}

const handle = {
  welcome(m) {
    session = m.session;
    if (m.role) main();
    else send("sign-in", { token });
  },
  signed: () => main(),
  driver: (m) => { driving = m.session === session; },
  state: () => { if (driving) send("alive", { n: ++number, heard }); }, // keeps the motion alive
  answer(m) {
    const who = waiting.get(m.n);
    if (!who || (m.ok && who.motion)) return;
    waiting.delete(m.n);
    if (m.ok) who.resolve(m);
    else who.reject(new Error(m.text));
  },
  ended(m) {
    const who = waiting.get(m.n);
    waiting.delete(m.n);
    if (who) m.ok ? who.resolve(m) : who.reject(new Error(m.text));
  },
  event: (m) => console.log(m.time.toFixed(2), m.what, m.text),
  error: (m) => { throw new Error(m.text); },
};

socket.onopen = () => send("hello", { version: 1, client: "examples/client.js" });
socket.onmessage = ({ data }) => {
  const message = JSON.parse(data);
  heard = Math.max(heard, message.time ?? 0);
  handle[message.type]?.(message);
};

async function main() {
  await ask("subscribe", { rate: 20, fields: ["mode", "place", "voltage"] });
  await ask("take");
  await ask("power");
  await ask("stand", {}, true);
  await ask("walk", { forward: 0.05, seconds: 2 }, true);
  const { foot, force } = await ask("probe", { leg: "right-front", push: 4 }, true);
  console.log(`touched at ${foot.map((x) => x.toFixed(3))} m with ${force.toFixed(1)} N`);
  await ask("give");
  socket.close();
}

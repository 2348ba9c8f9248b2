// What a browser has and Node 20 has not: EventSource, as far as the example in the docs needs it. Then
// show and tell, which the reader of the docs brings along.
class EventSource extends EventTarget {
  constructor(path) {
    super();
    this.read(process.env.SERVICE + path).catch((error) => tell(String(error)));
  }

  async read(address) {
    const answer = await fetch(address, { headers: { Accept: "text/event-stream" } });
    if (!answer.ok) throw new Error(`${answer.status} ${await answer.text()}`);
    let text = "";
    for await (const piece of answer.body.pipeThrough(new TextDecoderStream())) {
      const events = (text + piece).split("\n\n");
      text = events.pop();
      for (const event of events) this.hear(event.split("\n"));
    }
  }

  hear(lines) {
    const field = (name) => lines.filter((l) => l.startsWith(name + ":")).map((l) => l.slice(name.length + 1).trim()).join("\n");
    if (field("data") === "") return;
    const event = new MessageEvent(field("event") || "message", { data: field("data") });
    if (event.type === "message") this.onmessage?.(event);
    this.dispatchEvent(event);
  }
}

setTimeout(() => tell("no signature came"), 15000);
const show = (job) => {
  if (!job) return;
  console.log(job.name, job.stage, job.revision);
  if (job.stage === "SIGNED") process.exit(0);
};
const tell = (message) => {
  console.error(message);
  process.exit(1);
};

/**
 * A client of a rowdatum service, for browsers and Node 20 or later: one plain module that needs nothing else.
 *
 *   const shop = new Client({ base: "https://rowdatum.shop.example:7480", key });
 *   const job = await shop.create("planters/creek-six/jobs", { workOrder: "W-1207" }, { jobId: "w-1207" });
 *   for await (const { events, job: now } of shop.watch(job.name)) show(now);
 *
 * A write has a request id and is sent again until it is answered: the service does it once. What is refused is a Refusal;
 * what could not be reached, or was too busy for as long as the client is patient, Unreachable.
 */

/** @import {Job, JobEvent} from "./shapes.js" */
/** @typedef {{field: string, description: string}} Violation `field` is the path into the request: rows[3].readingsMm[0] */
/** @typedef {Record<string, string|number|boolean>} Query */
/** @typedef {{events: JobEvent[], job: Job}} News */

/** The service refused: its own words, and what it found wrong where. Act on `reason`, never on the words. */
export class Refusal extends Error {
  /** @param {number} status of HTTP @param {any} body a google.rpc.Status */
  constructor(status, body) {
    super(body?.message ?? `HTTP ${status}`);
    this.status = status;
    /** @type {any[]} */
    const details = body?.details ?? [];
    const info = details.find((d) => d.reason);
    /** UPPER_SNAKE word of the refusal. @type {string} */
    this.reason = info?.reason ?? "";
    /** What is variable in the message. @type {Record<string, string>} */
    this.metadata = info?.metadata ?? {};
    /** @type {Violation[]} */
    this.violations = details.flatMap((d) => d.fieldViolations ?? []);
  }
}

/** The service could not be reached, or was too busy: the same may be asked again. */
export class Unreachable extends Error {
  /** @param {string} message @param {{cause?: unknown, status?: number, wait?: number}} [more] */
  constructor(message, { cause, status = 0, wait = 0 } = {}) {
    super(message, { cause });
    /** Of HTTP; 0: nothing answered. */
    this.status = status;
    /** The least pause before asking again, ms. */
    this.wait = wait;
  }
}

/** How long one attempt may take, ms. */
const attempt = 15_000;
/** How long a watch may be silent, ms: three heartbeats of the service. */
const silence = 45_000;
/** The longest pause between two attempts, ms. */
const longest = 8_000;

export class Client {
  #base;
  #key;
  #language;
  #patience;
  #pause;
  #onNetwork;

  /**
   * @param {object} [options]
   * @param {string} [options.base] where the service is; empty: where the page came from
   * @param {string} [options.key] a bearer key; empty: none, or a browser's cookie
   * @param {string|(() => string)} [options.language] what people are told in: "en" or "es"
   * @param {number} [options.patience] how long a call is tried, ms
   * @param {number} [options.pause] before the second attempt, ms; each further one is twice as long
   * @param {(up: boolean) => void} [options.onNetwork] is told after each attempt whether the service could be reached
   */
  constructor({ base = "", key = "", language = "", patience = 30_000, pause = 250, onNetwork = () => {} } = {}) {
    this.#base = base.replace(/\/$/, "");
    this.#key = key;
    this.#language = language;
    this.#patience = patience;
    this.#pause = pause;
    this.#onNetwork = onNetwork;
  }

  /** Reads a resource, or the answer of a verb that only answers. @param {string} path @param {Query} [query] @returns {Promise<any>} */
  get(path, query = {}) {
    return this.#persist(() => this.once("GET", at(path, query)));
  }

  /** Every item of a list, page by page. @param {string} collection @param {Query} [query] @returns {AsyncGenerator<any, void>} */
  async *all(collection, query = {}) {
    const field = collection.split("/").at(-1) ?? "";
    for (let pageToken = ""; ; ) {
      const page = await this.get(collection, pageToken ? { ...query, pageToken } : query);
      yield* page[field];
      pageToken = page.nextPageToken;
      if (!pageToken) return;
    }
  }

  /**
   * Creates a resource in a collection. @param {string} collection @param {object} resource
   * @param {Query} [query] the wanted id and the like: { jobId: "w-1207", person: "Ada Quill" } @returns {Promise<any>}
   */
  create(collection, resource, query = {}) {
    return this.#write("POST", at(collection, { ...query, requestId: uuid() }), resource);
  }

  /** Changes the fields that are given; `name` and `etag` are among them. @param {{name: string, [field: string]: unknown}} resource @returns {Promise<any>} */
  update(resource) {
    return this.#write("PATCH", at(resource.name, { requestId: uuid() }), resource);
  }

  /** @param {string} name @param {Query} [query] @returns {Promise<any>} */
  remove(name, query = {}) {
    return this.#write("DELETE", at(name, { ...query, requestId: uuid() }));
  }

  /** Does something to a resource: act(job.name, "addReadings", { readings }). @param {string} name @param {string} verb @param {object} body @returns {Promise<any>} */
  act(name, verb, body) {
    return this.#write("POST", `${name}:${verb}`, { requestId: uuid(), ...body });
  }

  /** Computes something of which nothing is kept: compute("plans:compute", { … }). @param {string} path @param {object} body @returns {Promise<any>} */
  compute(path, body) {
    return this.#write("POST", path, body);
  }

  /**
   * The sheet that is handed over with the planter.
   * @param {string} job @param {"HTML"|"PDF"|"CSV"} [format] @param {"A4"|"LETTER"} [paper] @returns {Promise<Blob>}
   */
  sheet(job, format = "PDF", paper = "A4") {
    return this.#persist(async () => {
      const { answer, content } = await this.#fetch("GET", at(`${job}:sheet`, { format, ...(format === "PDF" ? { paper } : {}) }), undefined, (a) => a.blob());
      if (!answer.ok) throw refused(answer, json(await content.text()));
      return content;
    });
  }

  /**
   * Follows a job from behind the revision `after`; 0 begins with its opening. Gives events as they happen, each batch with the
   * job after it, none twice and none missed, whatever breaks on the way. Ends when the job is signed or voided, or with
   * `signal`. The first connection must stand within the client's patience.
   * @param {string} job @param {{after?: number, signal?: AbortSignal}} [options] @returns {AsyncGenerator<News, void>}
   */
  async *watch(job, { after = 0, signal } = {}) {
    const begin = Date.now();
    /** @type {JobEvent[]} */
    let missed = []; // received, and the job after them is still to come
    for (let pause = this.#pause, stood = false; ; pause = Math.min(2 * pause, longest)) {
      let wait = 0;
      try {
        for await (const news of this.listen(job, after, signal)) {
          stood = true;
          pause = this.#pause;
          if (news.closed) return;
          missed.push(...(news.events ?? []).filter((e) => e.revision > after));
          after = missed.at(-1)?.revision ?? after;
          if (!news.job || missed.length === 0) continue;
          const events = missed;
          missed = [];
          yield { events, job: news.job };
          if (news.job.stage !== "OPEN") return;
        }
      } catch (error) {
        if (!(error instanceof Unreachable) || !stood && Date.now() - begin + pause > this.#patience) throw error;
        wait = error.wait;
      }
      if (signal?.aborted) return;
      await rest(Math.max(wait, jittered(pause)), signal);
    }
  }

  /**
   * Follows a job over one connection, until that ends. An empty message says only that it stands; `closed`, that the job
   * takes no more events.
   * @param {string} job @param {number} after @param {AbortSignal} [signal] @returns {AsyncGenerator<Partial<News> & {closed?: boolean}, void>}
   */
  async *listen(job, after, signal) {
    const stop = new AbortController();
    const end = () => stop.abort();
    if (signal?.aborted) return;
    signal?.addEventListener("abort", end, { once: true });
    try {
      const answer = await timed(stop, fetch(this.#url(`${job}:watch?afterRevision=${after}`), { headers: this.#headers("text/event-stream"), signal: stop.signal }));
      if (answer.status === 204) return void (yield { closed: true });
      if (!answer.ok || !answer.body) throw refused(answer, json(await timed(stop, answer.text())));
      this.#onNetwork(true);
      yield {};
      const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
      for (let rest = ""; ; ) {
        const { done, value } = await timed(stop, reader.read());
        if (done) return;
        const messages = (rest + value).split("\n\n");
        rest = messages.pop() ?? "";
        for (const message of messages) yield newsOf(message);
      }
    } catch (cause) {
      if (cause instanceof Refusal || cause instanceof Unreachable) throw cause;
      if (signal?.aborted) return;
      this.#onNetwork(false);
      throw new Unreachable("The connection broke.", { cause });
    } finally {
      signal?.removeEventListener("abort", end);
      stop.abort();
    }
  }

  /**
   * Asks once, and never again by itself: for those who keep what they send until it is answered.
   * @param {string} method @param {string} path behind /v1/ @param {unknown} [body] @returns {Promise<any>}
   */
  async once(method, path, body) {
    const { answer, content } = await this.#fetch(method, path, body, (a) => a.text());
    const value = json(content);
    if (!answer.ok || value === null) throw refused(answer, value);
    return value;
  }

  /** @param {string} method @param {string} path @param {unknown} [body] the same each time, its request id too */
  #write(method, path, body) {
    return this.#persist(() => this.once(method, path, body));
  }

  /** Tries until something answers or patience ends. @template T @param {() => Promise<T>} call @returns {Promise<T>} */
  async #persist(call) {
    const end = Date.now() + this.#patience;
    for (let pause = this.#pause; ; pause = Math.min(2 * pause, longest)) {
      try {
        return await call();
      } catch (error) {
        if (!(error instanceof Unreachable)) throw error;
        const wait = Math.max(error.wait, jittered(pause));
        if (Date.now() + wait >= end) throw error;
        await rest(wait);
      }
    }
  }

  /**
   * @template T
   * @param {string} method @param {string} path @param {unknown} body @param {(answer: Response) => Promise<T>} read
   */
  async #fetch(method, path, body, read) {
    const headers = { ...this.#headers("application/json"), ...(body === undefined ? {} : { "Content-Type": "application/json" }) };
    try {
      const answer = await fetch(this.#url(path), { method, headers, body: body === undefined ? null : JSON.stringify(body), signal: AbortSignal.timeout(attempt) });
      const content = await read(answer);
      this.#onNetwork(answer.status < 502);
      return { answer, content };
    } catch (cause) {
      this.#onNetwork(false);
      throw new Unreachable("The service cannot be reached.", { cause });
    }
  }

  /** @param {string} path */
  #url(path) {
    return `${this.#base}/v1/${path}`;
  }

  /** @param {string} accept @returns {Record<string, string>} */
  #headers(accept) {
    const language = typeof this.#language === "function" ? this.#language() : this.#language;
    return { "Accept": accept, ...(language ? { "Accept-Language": language } : {}), ...(this.#key ? { "Authorization": `Bearer ${this.#key}` } : {}) };
  }
}

/** A UUID; crypto.randomUUID is missing on plain http. */
export function uuid() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  const hex = Array.from(b, (x) => x.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

/** @param {string} path @param {Query} query */
function at(path, query) {
  const text = new URLSearchParams(Object.entries(query).map(([name, value]) => [name, String(value)])).toString();
  return text ? `${path}?${text}` : path;
}

/** What a text says as JSON; null for a proxy's page. @param {string} text @returns {any} */
function json(text) {
  try { return JSON.parse(text); } catch { return null; }
}

/** Why an answer is none. @param {Response} answer @param {any} value its JSON, or null */
function refused(answer, value) {
  const { status } = answer;
  const final = value !== null && (status < 502 && status !== 429 && status !== 408);
  if (final) return new Refusal(status, value);
  return new Unreachable(value?.message ?? `HTTP ${status}`, { status, wait: 1_000 * (Number(answer.headers.get("Retry-After")) || 0) });
}

/** One server-sent event. @param {string} message @returns {Partial<News>} */
function newsOf(message) {
  const lines = message.split("\n");
  const data = lines.filter((l) => l.startsWith("data:")).map((l) => l.slice(5).trimStart()).join("\n");
  if (lines.some((l) => l === "event: error")) throw fault(json(data));
  return data ? JSON.parse(data) : {};
}

/** What ended a stream; UNAVAILABLE and RESOURCE_EXHAUSTED pass. @param {any} status a google.rpc.Status */
function fault(status) {
  if (status?.code === 14 || status?.code === 8) return new Unreachable(status.message, { status: 503 });
  return new Refusal(500, status);
}

/** @template T @param {AbortController} stop @param {Promise<T>} waiting @returns {Promise<T>} */
async function timed(stop, waiting) {
  const late = setTimeout(() => stop.abort(), silence);
  try { return await waiting; } finally { clearTimeout(late); }
}

/** So that a shop's phones do not come back all at once. @param {number} pause */
const jittered = (pause) => pause * (0.5 + Math.random() / 2);

/** @param {number} ms @param {AbortSignal} [signal] @returns {Promise<void>} */
function rest(ms, signal) {
  return new Promise((done) => {
    const end = () => { clearTimeout(timer); signal?.removeEventListener("abort", end); done(); };
    const timer = setTimeout(end, ms);
    signal?.addEventListener("abort", end);
  });
}

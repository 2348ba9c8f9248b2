'use strict';
// The handshake and the manners of a program that the service starts, for any style. What an author
// writes stands elsewhere: three functions from question to answer.

const grpc = require('@grpc/grpc-js');
const protoLoader = require('@grpc/proto-loader');
const protobuf = require('protobufjs');
const { X509Certificate } = require('node:crypto');
const selfsigned = require('selfsigned');

const cookie = { name: 'ROWDATUM_ADJUSTER', value: 'rowdatum.adjuster.v1' };
const maxMessageBytes = 16 * 1024 * 1024;
const firstCallMs = 60_000; // how long a host that has started us may take to come
const lastCallMs = 3_000; // how long we wait for another call once the host has let go of its stream

/** Serves an adjuster until the host says so or is gone. */
async function serve(adjuster) {
  if (process.env[cookie.name] !== cookie.value) {
    console.error('This program is an adjuster of rowdatum. It is not run by hand: put it into the folder of adjusters of the service.');
    process.exit(2);
  }
  process.on('SIGINT', () => {}); // Ctrl-C reaches the host as well, and the host ends us in order
  process.on('SIGTERM', () => process.exit(0));
  const life = lifeline();
  const server = new grpc.Server({
    'grpc.max_receive_message_length': maxMessageBytes, 'grpc.max_send_message_length': maxMessageBytes,
  });
  for (const [definition, implementation] of services(adjuster, life)) server.addService(definition, implementation);
  const own = await certificate();
  const port = await listen(server, own);
  process.stdout.write(`1|1|tcp|127.0.0.1:${port}|grpc|${own.field}\n`);
}

/** What is served, with what answers. */
function services(adjuster, life) {
  const unary = (answer) => (call, reply) => {
    life.heard();
    try {
      reply(null, answer(call.request));
    } catch (error) {
      console.error(error.stack);
      reply({ code: grpc.status.INTERNAL, details: 'the adjuster failed inside' });
    }
  };
  return [
    [definition(require('./proto/adjuster.proto'), 'rowdatum.adjuster.v1.Adjuster'), {
      Describe: unary(adjuster.describe), Options: unary(adjuster.options), Say: unary(adjuster.say),
    }],
    [definition(require('./proto/health.proto'), 'grpc.health.v1.Health'), { Check: health(life) }],
    [definition(require('./proto/plugin.proto'), 'plugin.GRPCController'), {
      Shutdown: unary(() => { setTimeout(() => process.exit(0), 50); return {}; }), // once the answer is out
    }],
    [definition(require('./proto/plugin.proto'), 'plugin.GRPCStdio'), { StreamStdio: life.stream }],
  ];
}

function health(life) {
  return (call, reply) => {
    life.heard();
    if (call.request.service === 'plugin') reply(null, { status: 'SERVING' });
    else reply({ code: grpc.status.NOT_FOUND, details: 'there is no such service' });
  };
}

/** The definition of a service, out of the text of a .proto file. */
function definition(text, name) {
  const { root } = protobuf.parse(text);
  return protoLoader.fromJSON(root.toJSON(), { defaults: true, enums: String })[name];
}

/** A key pair and certificate for this one run; field is what the host wants to see of it. */
async function certificate() {
  const pem = await selfsigned.generate([{ name: 'commonName', value: 'localhost' }], {
    keyType: 'ec', curve: 'P-256', algorithm: 'sha256',
    extensions: [{ name: 'subjectAltName', altNames: [{ type: 2, value: 'localhost' }] }],
  });
  const field = new X509Certificate(pem.cert).raw.toString('base64').replaceAll('=', '');
  return { key: Buffer.from(pem.private), cert: Buffer.from(pem.cert), field };
}

/** Listens on a free port of this machine, for the host's certificate and no other. */
function listen(server, own) {
  const hosts = process.env.PLUGIN_CLIENT_CERT;
  if (!hosts) throw new Error('the host has sent no certificate in PLUGIN_CLIENT_CERT');
  const credentials = grpc.ServerCredentials.createSsl(Buffer.from(hosts), [{ private_key: own.key, cert_chain: own.cert }], true);
  return new Promise((resolve, reject) => {
    server.bindAsync('127.0.0.1:0', credentials, (error, port) => (error ? reject(error) : resolve(port)));
  });
}

/**
 * Ends the program when its host is gone. A living host holds the stream of StreamStdio; once that has
 * ended, and no call comes any more, the host was killed and nobody will say Shutdown.
 */
function lifeline() {
  const leave = () => process.exit(0);
  let streams = 0;
  let timer = setTimeout(leave, firstCallMs);
  const heard = () => {
    clearTimeout(timer);
    if (streams === 0) timer = setTimeout(leave, lastCallMs);
  };
  const stream = (call) => {
    streams += 1;
    heard();
    call.on('cancelled', () => { streams -= 1; heard(); });
  };
  return { heard, stream };
}

module.exports = { serve };

// Package gateway is the JSON side of rowdatum: a function from a gRPC connection to an http.Handler.
//
// It serves the API of the connection as strict JSON, a job's news as lines of JSON or server-sent
// events, the API's description at /openapi.json, pages for people at /, /docs, /pair and /share, and
// /healthz and /readyz. The connection may lead through memory into the same process or to another
// machine; the gateway cannot tell and does not care.
//
// It promises that a request either arrives whole and understood or is refused with every fault named;
// that errors have one shape, google.rpc.Status, whoever made them; that no message to a person speaks
// of the insides of a program; that of the caller's headers only the request id, the key
// (Authorization, else the browser's cookie), the scheme and the address travel on, and of the service's
// none come back; that no answer loads anything from elsewhere; that a page of another site changes nothing; that a paired phone's key
// is in no page's reach; and that no reader of a watch, however slow, has more than one message waiting.
//
// Every error that the service means for people carries details (ErrorInfo, BadRequest). A status
// without details was made by machinery on the way: its words go to the log and the caller gets
// neutral ones with the same code.
//
// It will never compute anything of the job, keep anything, or know who asks.
package gateway

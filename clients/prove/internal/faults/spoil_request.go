package faults

import (
	"math/rand/v2"
	"net/http"
	"strings"
)

// requestSpoiler makes a request over HTTP wrong in one way, whatever its body.
type requestSpoiler struct {
	name string
	do   func(random *rand.Rand, r *http.Request)
}

var requestSpoilers = []requestSpoiler{
	{"another verb", func(random *rand.Rand, r *http.Request) {
		r.Method = oneOf(random, "GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "BREW", "PROPFIND")
	}},
	{"a spoiled path", func(random *rand.Rand, r *http.Request) {
		path := r.URL.EscapedPath()
		at := random.IntN(len(path)) + 1
		r.URL.Opaque = path[:at] + oneOf(random, "/", "//", "/..", "/../..", "%00", "%2F", "%2f..%2f", "%", "%zz", "%c0%af", ":", ":undo", "%0d%0aX:%20y", "é", strings.Repeat("a", 300), strings.Repeat("/a", 2000)) + path[at:]
		r.Body, r.ContentLength = http.NoBody, 0 // a server that cannot read the address closes before a large body is there
	}},
	{"a cut path", func(random *rand.Rand, r *http.Request) {
		path := r.URL.EscapedPath()
		r.URL.Opaque = path[:1+random.IntN(len(path))]
	}},
	{"a strange query", func(random *rand.Rand, r *http.Request) {
		r.URL.RawQuery += "&" + oneOf(random, "a", "=", "&&;", "%", "pageSize=1e9", "pageSize=-1", "pageToken=%00", "afterRevision=99999999999", "$alt=json", "requestId=x&requestId=y",
			"validateOnly=maybe", "job.state.rows=1", "a.b.c.d.e=1", strings.Repeat("x=1&", 3000), "key="+strings.Repeat("k", 9000))
	}},
	{"a strange header", func(random *rand.Rand, r *http.Request) {
		header := oneOf(random, "Content-Type", "Accept", "Accept-Language", "Accept-Encoding", "Content-Encoding", "Authorization", "Cookie", "Origin", "Host", "If-Match", "If-None-Match", "Range",
			"Last-Event-ID", "X-Forwarded-For", "X-Request-Id", "Grpc-Timeout", "Grpc-Metadata-Language", "Sec-Fetch-Site", "Traceparent", "Connection", "Upgrade")
		r.Header.Set(header, oneOf(random, "", "*", "gzip", "text/html;q=x", "Bearer", "Bearer "+strings.Repeat("k", 5000), "rowdatum=rd_x; rowdatum-share=rd_y", "http://evil.example", "bytes=0-1,9-", "99999999999999999999",
			"-1", `"`, "\"a\", W/\"b\"", "1.2.3.4, ::1, no address", "1H", "00-0-0-0", "cross-site", "websocket", strings.Repeat("a,", 4000), "es;q=0, en;q=0", "\x80\xff"))
	}},
}

func oneOf(random *rand.Rand, texts ...string) string { return texts[random.IntN(len(texts))] }

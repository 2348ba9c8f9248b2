package gateway

import "net/http"

// door is a page that a phone opens with a secret behind the # of its address, where no server and no
// log sees it. The page's script sends the secret and says what came of it.
type door struct {
	Path, Title string
	Says        string // what happens here
	Label       string // of the secret
	Button      string
	Done        string // before what the service says of the session
}

var pairDoor = door{
	Path: "/pair", Title: "Pair this phone", Label: "Code", Button: "Pair this phone", Done: "This phone is paired.",
	Says: "Pairing lets this phone work for the shop that gave you the code. Go on only if you asked for it.",
}

var shareDoor = door{
	Path: "/share", Title: "Open a shared job", Label: "Key of the link", Button: "Open", Done: "This browser may read the shared job.",
	Says: "Somebody shared a job with you, to read.",
}

var doors = []door{pairDoor, shareDoor}

// doorPolicy lets such a page run its one script, which may ask this service only.
const doorPolicy = policy + "; script-src 'self'; connect-src 'self'"

func scripted(page http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", doorPolicy)
		page.ServeHTTP(w, r)
	})
}

// posting serves page, and post where something is posted to its address.
func posting(page http.Handler, post http.HandlerFunc) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch r.Method {
		case http.MethodPost:
			post(w, r)
		case http.MethodGet, http.MethodHead:
			page.ServeHTTP(w, r)
		default:
			writeFault(w, wrongMethod([]string{http.MethodGet, http.MethodHead, http.MethodPost}))
		}
	})
}

package hooks

import (
	"net/http"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
)

// TestPublishedVector is the vector of the convention's own libraries (TestWebhookSign of
// github.com/standard-webhooks/standard-webhooks/libraries v0.0.1, go/webhook_test.go).
func TestPublishedVector(t *testing.T) {
	got, err := signature("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330", `{"test": 2432232314}`)
	if want := "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="; got != want || err != nil {
		t.Errorf("%s, %v, want %s", got, err, want)
	}
}

// TestSignedForBoth: while a secret is changed, a receiver with either believes the message, and one with
// another, or with another body, does not. The convention's own library judges.
func TestSignedForBoth(t *testing.T) {
	const next, old, other, body = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", "whsec_BBBBBBBBBBBBBBBBBBBBBBBBBBBBBBBB", `{"a":1}`
	header := http.Header{}
	if err := sign(header, []string{next, old}, "e1", time.Now(), body); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		secret, body string
		good         bool
	}{{next, body, true}, {old, body, true}, {other, body, false}, {next, `{"a":2}`, false}} {
		judge, err := standardwebhooks.NewWebhook(c.secret)
		if err != nil {
			t.Fatal(err)
		}
		if err := judge.Verify([]byte(c.body), header); (err == nil) != c.good {
			t.Errorf("%s of %s: %v", c.body, c.secret, err)
		}
	}
}

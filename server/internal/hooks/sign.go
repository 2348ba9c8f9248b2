package hooks

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// The headers of the Standard Webhooks convention.
const (
	idHeader        = "webhook-id"
	timeHeader      = "webhook-timestamp"
	signatureHeader = "webhook-signature"
	secretPrefix    = "whsec_"
)

// sign sets the headers by which a receiver knows who sends: a signature for each secret.
func sign(header http.Header, secrets []string, id string, at time.Time, body string) error {
	stamp := strconv.FormatInt(at.Unix(), 10)
	var all []string
	for _, secret := range secrets {
		signature, err := signature(secret, id, stamp, body)
		if err != nil {
			return err
		}
		all = append(all, signature)
	}
	header.Set(idHeader, id)
	header.Set(timeHeader, stamp)
	header.Set(signatureHeader, strings.Join(all, " "))
	return nil
}

// signature is that of Standard Webhooks, scheme v1.
func signature(secret, id, stamp, body string) (string, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, secretPrefix))
	if err != nil {
		return "", fmt.Errorf("reading a hook's secret: %w", err)
	}
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(id + "." + stamp + "." + body))
	return "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil)), nil
}

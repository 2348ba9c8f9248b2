package flow

import "testing"

// TestHookPorts: a hook goes to web servers, not to mail servers and databases.
func TestHookPorts(t *testing.T) {
	f := &Flow{}
	for address, taken := range map[string]bool{
		"https://shop.example/hooks": true, "https://shop.example:443/": true, "http://shop.example:80": true, "https://shop.example:8443": true,
		"http://shop.example:8080/": true, "http://shop.example:3000": true, "https://shop.example:49152": true,
		"http://shop.example:0/": false, "http://shop.example:22/": false, "http://shop.example:25/": false, "http://shop.example:587/": false,
		"http://shop.example:6379/": false, "http://shop.example:5432/": false, "http://shop.example:11211/": false, "http://shop.example:65536/": false,
	} {
		if why := f.wrongURL(address); (why == "") != taken {
			t.Errorf("%s: %q", address, why)
		}
	}
}

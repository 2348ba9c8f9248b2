package flow

import (
	"net/netip"
	"net/url"
	"slices"
	"strconv"
)

// otherServices are ports of services that a web request could be made to speak to: from the list of blocked ports of the Fetch
// standard (fetch.spec.whatwg.org, port blocking; from memory), and databases and caches of shops by their registered numbers.
// Below 1024 only the web's own are taken, so that the list has what lies above.
var otherServices = []int{1433, 1521, 1719, 1720, 1723, 2049, 2375, 2376, 2379, 2380, 3306, 3389, 3659, 4045, 4190, 5060, 5061, 5432, 5900, 6000, 6379, 6566, 6665,
	6666, 6667, 6668, 6669, 6679, 6697, 9200, 9300, 10080, 11211, 27017}

// portTakesHooks says whether a receiver of hooks may listen at an address's port. A hook must not be a way to make the service
// speak to mail servers and databases, whose lines a body can imitate.
func portTakesHooks(u *url.URL) bool {
	if u.Port() == "" {
		return true
	}
	port, err := strconv.Atoi(u.Port())
	switch {
	case err != nil || port < 1 || port > 65535:
		return false
	case port < 1024:
		return port == 80 || port == 443
	}
	return !slices.Contains(otherServices, port)
}

// notPublic are the networks that no public receiver can be in, from the registries of special-purpose
// addresses of IANA (IPv4 and IPv6), and multicast.
var notPublic = prefixes(
	"0.0.0.0/8",       // this network
	"10.0.0.0/8",      // private
	"100.64.0.0/10",   // shared by a carrier's customers
	"127.0.0.0/8",     // loopback
	"169.254.0.0/16",  // link-local; also where clouds tell machines their secrets
	"172.16.0.0/12",   // private
	"192.0.0.0/24",    // protocol assignments
	"192.0.2.0/24",    // documentation
	"192.88.99.0/24",  // once a relay into IPv6
	"192.168.0.0/16",  // private
	"198.18.0.0/15",   // benchmarks
	"198.51.100.0/24", // documentation
	"203.0.113.0/24",  // documentation
	"224.0.0.0/4",     // multicast
	"240.0.0.0/4",     // reserved, and broadcast

	"2001::/23",     // protocol assignments, tunnels to any IPv4 among them
	"2001:db8::/32", // documentation
	"2002::/16",     // 6to4: tunnels to any IPv4
	"3fff::/20",     // documentation
)

// globalUnicast is all of IPv6 that is given out to the public; loopback, unique local, link-local, multicast
// and translated IPv4 lie outside.
var globalUnicast = netip.MustParsePrefix("2000::/3")

func prefixes(all ...string) (out []netip.Prefix) {
	for _, text := range all {
		out = append(out, netip.MustParsePrefix(text))
	}
	return out
}

// PublicAddress says whether an address can be that of a public receiver.
func PublicAddress(ip netip.Addr) bool {
	ip = ip.Unmap().WithZone("")
	if !ip.IsValid() || ip.Is6() && !globalUnicast.Contains(ip) {
		return false
	}
	for _, network := range notPublic {
		if network.Contains(ip) {
			return false
		}
	}
	return true
}

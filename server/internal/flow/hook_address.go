package flow

import "net/netip"

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

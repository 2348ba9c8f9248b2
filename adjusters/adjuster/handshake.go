package adjuster

import "github.com/hashicorp/go-plugin"

// Handshake is what host and adjuster tell each other before anything else. It keeps people from
// running an adjuster by hand; it is no security.
var Handshake = plugin.HandshakeConfig{
	ProtocolVersion:  1,
	MagicCookieKey:   "ROWDATUM_ADJUSTER",
	MagicCookieValue: "rowdatum.adjuster.v1",
}

// What both sides hold each other to.
const (
	// PluginName is the name under which an adjuster is dispensed.
	PluginName = "adjuster"
	// MaxMessageBytes is the largest message either way.
	MaxMessageBytes = 16 << 20
	// MaxRows is the most rows in one call.
	MaxRows = 120
	// MaxOptions is the most options of one row.
	MaxOptions = 1000
	// MaxSeconds is the longest that bringing one row to one setting may take: a day.
	MaxSeconds = 86400
	// MaxSchemaBytes is the largest JSON Schema of a style.
	MaxSchemaBytes = 64 << 10
)

package js

import _ "embed"

// Module is the client: one plain module without dependencies.
//
//go:embed rowdatum.js
var Module []byte

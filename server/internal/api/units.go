package api

import (
	"context"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/leveling"
)

// unitOf are the units of length that a request may name.
var unitOf = map[pb.LengthUnit]leveling.LengthUnit{pb.LengthUnit_MM: leveling.MM, pb.LengthUnit_IN: leveling.Inch}

// lengthUnit reads a unit that may be left out.
func lengthUnit(field string, u pb.LengthUnit, v *leveling.Violations) leveling.LengthUnit {
	unit, known := unitOf[u]
	if !known && u != pb.LengthUnit_LENGTH_UNIT_UNSPECIFIED {
		v.Add(field, "is %d, must be MM or IN", u)
	}
	return unit
}

func lengthUnitProto(u leveling.LengthUnit) pb.LengthUnit {
	return pb.LengthUnit(pb.LengthUnit_value[string(u)])
}

// areaUnit reads a unit that may be left out.
func areaUnit(field string, u pb.AreaUnit, v *leveling.Violations) leveling.AreaUnit {
	switch u {
	case pb.AreaUnit_AREA_UNIT_UNSPECIFIED:
		return ""
	case pb.AreaUnit_HECTARE:
		return leveling.Hectare
	case pb.AreaUnit_ACRE:
		return leveling.Acre
	}
	v.Add(field, "is %d, must be HECTARE or ACRE", u)
	return ""
}

func areaUnitProto(u leveling.AreaUnit) pb.AreaUnit { return pb.AreaUnit(pb.AreaUnit_value[string(u)]) }

// voiceOf is the voice for a caller who names a unit or none.
func voiceOf(ctx context.Context, u pb.LengthUnit) (leveling.Voice, error) {
	var v leveling.Violations
	unit := lengthUnit("lengthUnit", u, &v)
	return leveling.VoiceFor(languageOf(ctx), unit, leveling.DefaultFixture()), v.Err()
}

package sheet

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// Aim is which plan is wanted, as people write it: least-work, closest, match-row=4, set-depth=2 in.
type Aim struct {
	Kind    rowdatumv1.Aim_Kind
	Row     int32   // MATCH_ROW only
	DatumMm float64 // SET_DEPTH only
}

// ParseAim reads an aim; r reads its depth.
func ParseAim(text string, r length.Reading) (Aim, error) {
	word, value, _ := strings.Cut(text, "=")
	value = strings.TrimSpace(value)
	switch strings.ReplaceAll(plain(word), " ", "-") {
	case "least-work":
		return Aim{Kind: rowdatumv1.Aim_LEAST_WORK}, noValue(word, value)
	case "closest":
		return Aim{Kind: rowdatumv1.Aim_CLOSEST}, noValue(word, value)
	case "match-row":
		row, err := strconv.ParseInt(value, 10, 32)
		if err != nil {
			return Aim{}, fmt.Errorf("%s is not a row number; write match-row=4", quote(value))
		}
		return Aim{Kind: rowdatumv1.Aim_MATCH_ROW, Row: int32(row)}, nil
	case "set-depth":
		mm, err := r.Mm(value)
		if err != nil {
			return Aim{}, errors.New(NotLength(value, err, r, "as in set-depth=2 in"))
		}
		return Aim{Kind: rowdatumv1.Aim_SET_DEPTH, DatumMm: length.Float(mm)}, nil
	}
	return Aim{}, fmt.Errorf("%s is not an aim; write least-work, closest, match-row=4 or set-depth=2 in", quote(text))
}

func noValue(word, value string) error {
	if value != "" {
		return fmt.Errorf("%s takes no value; write it alone", plain(word))
	}
	return nil
}

// Apply puts the aim's kind, row and datum into a request and leaves its other figures alone.
func (a Aim) Apply(request *rowdatumv1.ComputePlanRequest) {
	if request.Aim == nil {
		request.Aim = &rowdatumv1.Aim{}
	}
	request.Aim.Kind, request.Aim.Row, request.Aim.DatumMm = a.Kind, nil, nil
	switch a.Kind {
	case rowdatumv1.Aim_MATCH_ROW:
		request.Aim.Row = &a.Row
	case rowdatumv1.Aim_SET_DEPTH:
		request.Aim.DatumMm = &a.DatumMm
	}
}

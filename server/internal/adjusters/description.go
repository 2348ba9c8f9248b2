package adjusters

import (
	"context"
	"crypto/sha256"
	"fmt"
	"math"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	lru "github.com/hashicorp/golang-lru/v2"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
	"rowdatum/server/leveling"
)

// Bounds on what an adjuster says; far above what a person reads.
const (
	maxShortText  = 200  // a title, a unit
	maxLongText   = 2000 // a sentence or a few, in bytes
	maxTexts      = 50   // cautions, inspection points, violations
	maxFigureMm   = 1e6  // a kilometre: keeps the core's whole picometres far from overflow
	maxCount      = 1e6  // counts of one move
	maxSettings   = 8192 // settings remembered as checked
	maxSettingLen = 1024 // bytes of one setting
)

// description is what a style says of itself, checked, with its schemas compiled.
type description struct {
	style      leveling.Style
	figures    *schema.Schema
	setting    *schema.Schema
	generation string // changes with the program and with what it says of itself
	// settings remembers the canonical text of settings that satisfy the schema, by the text as it came:
	// options of many rows name the same few settings again and again.
	settings *lru.Cache[string, leveling.JSON]
}

// describe asks a program what it is.
func describe(ctx context.Context, process *process, p program) (*description, error) {
	answer, err := process.ask.Describe(ctx, &adjusterv1.DescribeRequest{})
	if err != nil {
		if ctx.Err() != nil || status.Code(err) == codes.DeadlineExceeded {
			return nil, &fault{reason: "The adjuster did not say in time what it is.", err: err}
		}
		return nil, &fault{reason: "The adjuster could not say what it is.", err: err}
	}
	d, err := newDescription(answer.GetStyle(), p)
	if err != nil {
		return nil, &fault{reason: "The adjuster describes itself wrongly: " + err.Error() + ".", final: true}
	}
	return d, nil
}

// newDescription checks what a style says of itself. The error goes on from "it describes itself
// wrongly:".
func newDescription(said *adjusterv1.Style, p program) (*description, error) {
	style, err := newStyle(said)
	if err != nil {
		return nil, err
	}
	d := &description{style: style}
	if d.figures, err = schema.Compile(style.FiguresSchema); err != nil {
		return nil, fmt.Errorf("the schema of its figures %w", err)
	}
	if d.setting, err = schema.Compile(style.SettingSchema); err != nil {
		return nil, fmt.Errorf("the schema of its setting %w", err)
	}
	whole, err := proto.MarshalOptions{Deterministic: true}.Marshal(said)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(append(p.sum[:], whole...))
	d.generation = string(sum[:])
	d.settings, err = lru.New[string, leveling.JSON](maxSettings)
	return d, err
}

// idForm: lower-case letters, digits and hyphens, 1 to 63 characters, starting with a letter.
var idForm = regexp.MustCompile(`^[a-z][a-z0-9-]{0,62}$`)

// newStyle checks a style's words and constants.
func newStyle(said *adjusterv1.Style) (leveling.Style, error) {
	c := checks{}
	if said == nil {
		said = &adjusterv1.Style{}
	}
	c.that(idForm.MatchString(said.Id), "its id is %q, must be lower-case letters, digits and hyphens, starting with a letter", clip(said.Id))
	c.text("its title", said.Title, 1, maxShortText)
	c.text("its version", said.Version, 1, maxShortText)
	c.text("its word for one count", said.CountUnit.GetOne(), 1, maxShortText)
	c.text("its word for several counts", said.CountUnit.GetOther(), 1, maxShortText)
	c.within("its scaleSd", said.ScaleSd, 0, maxFigureMm)
	c.within("its seatingMm", said.SeatingMm, 0, maxFigureMm)
	c.within("its slackMm", said.SlackMm, 0, maxFigureMm)
	c.within("its touchSeconds", said.TouchSeconds, math.SmallestNonzeroFloat64, adjuster.MaxSeconds)
	approach, known := map[adjusterv1.Approach]leveling.Approach{
		adjusterv1.Approach_APPROACH_UNSPECIFIED: leveling.AnyApproach,
		adjusterv1.Approach_APPROACH_SHALLOWER:   leveling.ApproachShallower,
		adjusterv1.Approach_APPROACH_DEEPER:      leveling.ApproachDeeper,
	}[said.Approach]
	c.that(known, "its approach is not known here")
	c.texts("its cautions", said.Cautions)
	points := c.inspectionPoints(said.InspectionPoints)
	return leveling.Style{
		ID: said.Id, Title: said.Title, Version: said.Version,
		CountUnit:  leveling.CountUnit{One: said.CountUnit.GetOne(), Other: said.CountUnit.GetOther()},
		KeepsMarks: said.KeepsMarks, SetsPlantingDepth: said.SetsPlantingDepth,
		FiguresSchema: said.FiguresSchema, SettingSchema: said.SettingSchema,
		ScaleSd: said.ScaleSd, SeatingMm: said.SeatingMm, SlackMm: said.SlackMm, Approach: approach,
		TouchSeconds: said.TouchSeconds, InspectionPoints: points, Cautions: said.Cautions,
	}, c.err
}

func (c *checks) inspectionPoints(said []*adjusterv1.InspectionPoint) []leveling.InspectionPoint {
	c.that(len(said) <= maxTexts, "it has %d inspection points, at most %d are taken", len(said), maxTexts)
	if c.err != nil {
		return nil
	}
	var points []leveling.InspectionPoint
	for _, p := range said {
		c.that(idForm.MatchString(p.GetId()), "an inspection point has the id %q", clip(p.GetId()))
		c.text("the title of an inspection point", p.GetTitle(), 1, maxShortText)
		c.text("the unit of an inspection point", p.GetUnit(), 0, maxShortText)
		c.text("the guidance of an inspection point", p.GetGuidance(), 0, maxLongText)
		if p.GetLimit() != 0 {
			c.within("the limit of an inspection point", p.GetLimit(), -maxFigureMm, maxFigureMm)
		}
		worse, known := map[adjusterv1.WorseWhen]leveling.WorseWhen{
			adjusterv1.WorseWhen_WORSE_WHEN_UNSPECIFIED: leveling.ByEye,
			adjusterv1.WorseWhen_WORSE_WHEN_LARGER:      leveling.WorseLarger,
			adjusterv1.WorseWhen_WORSE_WHEN_SMALLER:     leveling.WorseSmaller,
		}[p.GetWorseWhen()]
		c.that(known && (worse == leveling.ByEye) == (p.Limit == nil),
			"the inspection point %q must have a limit and the side on which it is worn, or neither", clip(p.GetId()))
		points = append(points, leveling.InspectionPoint{ID: p.GetId(), Title: p.GetTitle(), Unit: p.GetUnit(),
			Limit: p.Limit, WorseWhen: worse, Guidance: p.GetGuidance()})
	}
	return points
}

// canonical checks a setting and gives its canonical text.
func (d *description) canonical(text string) (leveling.JSON, error) {
	if known, ok := d.settings.Get(text); ok {
		return known, nil
	}
	if len(text) > maxSettingLen {
		return "", fmt.Errorf("a setting of %d bytes, at most %d are taken", len(text), maxSettingLen)
	}
	doc, err := schema.Decode(text)
	if err != nil {
		return "", fmt.Errorf("a setting that is not valid JSON (%s)", clip(text))
	}
	if vs := d.setting.CheckValue("setting", doc); len(vs) > 0 {
		return "", fmt.Errorf("a setting off its own schema: %s %s", vs[0].Field, vs[0].Message)
	}
	same, err := schema.Canonical(doc)
	if err != nil {
		return "", err
	}
	d.settings.Add(text, leveling.JSON(same))
	return leveling.JSON(same), nil
}

// checks keeps the first thing that is wrong.
type checks struct{ err error }

func (c *checks) that(good bool, format string, args ...any) {
	if !good && c.err == nil {
		c.err = fmt.Errorf(format, args...)
	}
}

// within is false for NaN.
func (c *checks) within(what string, x, low, high float64) {
	if !(x >= low && x <= high) && c.err == nil {
		c.that(false, "%s is %s, must be from %s to %s", what, leveling.Figure(x), leveling.Figure(low), leveling.Figure(high))
	}
}

func (c *checks) text(what, s string, least, most int) {
	c.that(len(s) <= most, "%s has %d bytes, at most %d are taken", what, len(s), most)
	c.that(utf8.ValidString(s) && strings.IndexFunc(s, unprintable) < 0, "%s has characters that cannot be shown", what)
	c.that(len(strings.TrimSpace(s)) >= least, "%s is empty", what)
}

func (c *checks) texts(what string, list []string) {
	c.that(len(list) <= maxTexts, "%s are %d, at most %d are taken", what, len(list), maxTexts)
	for _, s := range list[:min(len(list), maxTexts)] {
		c.text("one of "+what, s, 1, maxLongText)
	}
}

// unprintable: control characters could write to a person's terminal what they like.
func unprintable(r rune) bool { return unicode.IsControl(r) && r != '\n' }

// clip shortens what somebody else wrote for use in a message.
func clip(s string) string {
	s = strings.Map(func(r rune) rune {
		if unprintable(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
	if r := []rune(s); len(r) > 80 {
		return string(r[:80]) + "…"
	}
	return s
}

package adjuster

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"runtime/debug"
	"slices"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
)

const (
	// maxRowBytes keeps an answer for MaxRows rows within one message, with room for the frames.
	maxRowBytes = MaxMessageBytes/MaxRows - 64
	// optionBytes is an option on the wire without its setting: five doubles, a bool, tags and lengths.
	optionBytes = 64
)

// server answers the contract's calls from a style and its mechanism.
type server[F, S any] struct {
	adjusterv1.UnimplementedAdjusterServer
	style            Style
	mechanism        Mechanism[F, S]
	figures, setting *schema.Schema
	voices           []voice // English first
}

// New returns what Serve serves, for tests in the author's own process. It fails where the style
// contradicts itself.
func New[F, S any](style Style, m Mechanism[F, S]) (adjusterv1.AdjusterServer, error) {
	if err := style.check(); err != nil {
		return nil, err
	}
	figures, err := compile(style.FiguresSchema)
	if err != nil {
		return nil, fmt.Errorf("the figures' schema of %s %w", style.ID, err)
	}
	setting, err := compile(style.SettingSchema)
	if err != nil {
		return nil, fmt.Errorf("the setting's schema of %s %w", style.ID, err)
	}
	voices, err := style.voices()
	if err != nil {
		return nil, err
	}
	return &server[F, S]{style: style, mechanism: m, figures: figures, setting: setting, voices: voices}, nil
}

// Describe gives the style.
func (s *server[F, S]) Describe(_ context.Context, r *adjusterv1.DescribeRequest) (*adjusterv1.DescribeResponse, error) {
	return &adjusterv1.DescribeResponse{Style: s.style.describe(s.speak(r.GetLanguage(), r.GetLengthUnit()))}, nil
}

// Options gives every row's options.
func (s *server[F, S]) Options(ctx context.Context, r *adjusterv1.OptionsRequest) (_ *adjusterv1.OptionsResponse, err error) {
	defer recovered(&err)
	if len(r.GetRows()) > MaxRows {
		return nil, status.Errorf(codes.InvalidArgument, "%d rows were asked for, at most %d are allowed", len(r.GetRows()), MaxRows)
	}
	known := s.readFigures(r.GetMechanisms())
	out := &adjusterv1.OptionsResponse{}
	for _, row := range r.GetRows() {
		if err := ctx.Err(); err != nil {
			return nil, status.FromContextError(err).Err()
		}
		f, err := pick(known, row.GetMechanism())
		if err != nil {
			return nil, err
		}
		options, err := s.options(f, row.GetSetting())
		if err != nil {
			return nil, err
		}
		out.Rows = append(out.Rows, options)
	}
	return out, nil
}

// Say gives the words of every choice.
func (s *server[F, S]) Say(ctx context.Context, r *adjusterv1.SayRequest) (_ *adjusterv1.SayResponse, err error) {
	defer recovered(&err)
	if len(r.GetChoices()) > MaxRows {
		return nil, status.Errorf(codes.InvalidArgument, "%d choices were sent, at most %d are allowed", len(r.GetChoices()), MaxRows)
	}
	known := s.readFigures(r.GetMechanisms())
	out := &adjusterv1.SayResponse{}
	for _, c := range r.GetChoices() {
		if err := ctx.Err(); err != nil {
			return nil, status.FromContextError(err).Err()
		}
		f, err := pick(known, c.GetMechanism())
		if err != nil {
			return nil, err
		}
		words, err := s.say(f, c, s.speak(r.GetLanguage(), r.GetLengthUnit()))
		if err != nil {
			return nil, err
		}
		out.Words = append(out.Words, words)
	}
	return out, nil
}

// read is a text read into the author's type, or what is wrong with it.
type read[T any] struct {
	value      T
	canonical  string
	violations Violations
	err        error
}

func readAs[T any](s *schema.Schema, root, text string) (r read[T]) {
	r.canonical, r.violations = check(s, root, text)
	if r.violations == nil {
		if err := json.Unmarshal([]byte(r.canonical), &r.value); err != nil {
			r.err = status.Errorf(codes.Internal, "the schema of %s lets through what the adjuster cannot read: %v", root, err)
		}
	}
	return r
}

func (s *server[F, S]) readFigures(mechanisms []*adjusterv1.MechanismFigures) []read[F] {
	out := make([]read[F], len(mechanisms))
	for i, m := range mechanisms {
		out[i] = readAs[F](s.figures, "figures", m.GetFigures())
	}
	return out
}

// pick gives the figures that a row refers to.
func pick[F any](known []read[F], i int32) (*read[F], error) {
	if i < 0 || int(i) >= len(known) {
		return nil, status.Errorf(codes.InvalidArgument, "a row refers to mechanism %d, but %d were sent", i, len(known))
	}
	return &known[i], known[i].err
}

// readSetting reads a row's setting; nil where nobody knows it and the style can do without.
func (s *server[F, S]) readSetting(text string) (read[S], *S) {
	if text == "" {
		if s.style.SettingOptional {
			return read[S]{}, nil
		}
		return read[S]{violations: SettingNeeded().(Violations)}, nil
	}
	r := readAs[S](s.setting, "setting", text)
	return r, &r.value
}

// options answers for one row.
func (s *server[F, S]) options(f *read[F], setting string) (*adjusterv1.RowOptions, error) {
	r, at := s.readSetting(setting)
	if r.err != nil {
		return nil, r.err
	}
	if wrong := slices.Concat(f.violations, r.violations); len(wrong) > 0 {
		return refused(wrong), nil
	}
	travel, err := s.mechanism.Travel(f.value, at)
	if wrong, ok := errors.AsType[Violations](err); ok {
		return refused(wrong), nil
	} else if err != nil {
		return nil, status.Errorf(codes.Internal, "the options could not be worked out: %v", err)
	}
	options, err := collect(travel, r.canonical, s.setting)
	if wrong, ok := errors.AsType[Violations](err); ok {
		return refused(wrong), nil
	} else if err != nil {
		return nil, status.Errorf(codes.Internal, "the options could not be written: %v", err)
	}
	return options, nil
}

func refused(wrong Violations) *adjusterv1.RowOptions {
	out := &adjusterv1.RowOptions{}
	for _, v := range wrong {
		out.Violations = append(out.Violations, &adjusterv1.Violation{Field: v.Field, Message: v.Message})
	}
	return out
}

// collect turns a row's travel into its options: effects and counts from where it stands, the one
// option that leaves it, and, where the setting is known, the setting afterwards and the travel left.
func collect[S any](t Travel[S], here string, s *schema.Schema) (*adjusterv1.RowOptions, error) {
	leave := &adjusterv1.Option{Leave: true, SettingAfter: here}
	options := []*adjusterv1.Option{leave}
	if t.Positions == nil {
		t.Positions = func(func(Position[S]) bool) {}
	}
	size := 0
	low, high := t.Here.DepthMm-max(0, t.ShallowerLeftMm), t.Here.DepthMm+max(0, t.DeeperLeftMm)
	for p := range t.Positions {
		o := &adjusterv1.Option{EffectMm: tidy(p.DepthMm - t.Here.DepthMm), Count: tidy(p.Count - t.Here.Count)}
		if o.EffectMm == 0 && o.Count == 0 {
			continue // where it stands, or as deep in another way, which gains nothing
		}
		if !(p.Seconds >= 0 && p.Seconds <= MaxSeconds) {
			return nil, fmt.Errorf("a position takes %v seconds, must be from 0 to %d", p.Seconds, MaxSeconds)
		}
		if p.Seconds > 0 {
			o.Seconds = &p.Seconds
		}
		if !finite(o.EffectMm) || !finite(o.Count) {
			return nil, Wrong("figures", "lead to a depth that is not a finite number; check their sizes")
		}
		if len(options) == MaxOptions {
			return nil, Wrong("figures", "allow more than %d settings, which is the most; make the smallest step larger or the travel shorter", MaxOptions)
		}
		if here != "" {
			after, err := write(p.Setting)
			if err != nil {
				return nil, err
			}
			// One of them shows whether the author's type and schema agree.
			if len(options) == 1 {
				if _, wrong := check(s, "setting", after); wrong != nil {
					return nil, fmt.Errorf("the adjuster gives a setting that its own schema refuses: %v", wrong)
				}
			}
			if size += optionBytes + len(after); size > maxRowBytes {
				return nil, Wrong("figures", "lead to settings too long to list; make the smallest step larger or the travel shorter")
			}
			o.SettingAfter = after
		}
		low, high = min(low, p.DepthMm), max(high, p.DepthMm)
		options = append(options, o)
	}
	slices.SortStableFunc(options, func(a, b *adjusterv1.Option) int { return cmp.Compare(a.EffectMm, b.EffectMm) })
	if here != "" {
		for _, o := range options {
			o.ShallowerLeftMm = left(t.Here.DepthMm + o.EffectMm - low)
			o.DeeperLeftMm = left(high - t.Here.DepthMm - o.EffectMm)
		}
	}
	return &adjusterv1.RowOptions{Options: options}, nil
}

func left(mm float64) *float64 {
	mm = max(tidy(mm), 0)
	return &mm
}

// tidy rounds to 1e-9, whole picometres for mm, so that 57.15 - 50.8 is 6.35. It is odd: there and
// back add up to 0.
func tidy(x float64) float64 {
	const perUnit = 1e9
	if r := math.Round(x*perUnit) / perUnit; finite(r) {
		return r + 0
	}
	return x
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// write gives a setting as canonical JSON, its numbers tidied.
func write(setting any) (string, error) {
	text, err := json.Marshal(setting)
	if err != nil {
		return "", err
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		return "", err
	}
	return schema.Canonical(tidied(v))
}

func tidied(v any) any {
	switch v := v.(type) {
	case float64:
		return tidy(v)
	case []any:
		for i := range v {
			v[i] = tidied(v[i])
		}
	case map[string]any:
		for k := range v {
			v[k] = tidied(v[k])
		}
	}
	return v
}

// say gives the words of one choice.
func (s *server[F, S]) say(f *read[F], c *adjusterv1.Choice, v *voice) (*adjusterv1.Words, error) {
	from, at := s.readSetting(c.GetSetting())
	after, to := read[S]{}, (*S)(nil)
	if text := c.GetOption().GetSettingAfter(); text != "" {
		after = readAs[S](s.setting, "option.settingAfter", text)
		to = &after.value
	}
	if wrong := slices.Concat(f.violations, from.violations, after.violations); len(wrong) > 0 {
		return nil, status.Error(codes.InvalidArgument, wrong.Error())
	}
	if err := errors.Join(from.err, after.err); err != nil {
		return nil, err
	}
	o := c.GetOption()
	if o == nil || !finite(o.EffectMm) || !finite(o.Count) {
		return nil, status.Error(codes.InvalidArgument, "a choice has no option with a finite effect and count")
	}
	if !o.Leave && (at == nil) != (to == nil) {
		return nil, status.Error(codes.InvalidArgument, "a choice has the setting on one side of its move only")
	}
	words := s.mechanism.Say(Move[F, S]{Figures: f.value, From: at, To: to, Leave: o.Leave,
		EffectMm: o.EffectMm, Count: o.Count, Language: v.language, Inches: v.inches, unit: v.text.CountUnit})
	out := &adjusterv1.Words{Cautions: words.Cautions}
	if o.Leave {
		return out, nil
	}
	if words.Say == "" {
		return nil, status.Error(codes.Internal, "the adjuster has no words for a move")
	}
	out.Say = s.style.finish(words, o, v)
	return out, nil
}

// panicked is the error of a call in which the author's code panicked: the caller gets one line, the
// log the whole of it.
type panicked struct {
	value any
	stack []byte
}

func (p *panicked) Error() string {
	return fmt.Sprintf("the adjuster failed inside: %v\n%s", p.value, p.stack)
}

// GRPCStatus is what crosses the wire.
func (p *panicked) GRPCStatus() *status.Status {
	return status.Newf(codes.Internal, "the adjuster failed inside: %v", p.value)
}

// recovered turns an author's panic into the error of that call; the program lives on.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = &panicked{p, debug.Stack()}
	}
}

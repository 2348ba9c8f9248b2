package adjusters

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"go.uber.org/zap"
	"golang.org/x/sync/singleflight"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"rowdatum/adjusters/adjuster"
	"rowdatum/adjusters/schema"
	adjusterv1 "rowdatum/proto/gen/rowdatum/adjuster/v1"
	"rowdatum/server/leveling"
)

const (
	// slowCalls in a row that ran out of time have a program started again that still shows signs of
	// life.
	slowCalls = 3
	// maxLanguage is the longest language tag passed on; BCP 47 asks for room for 35 characters.
	maxLanguage = 35
)

// mechanism asks one program, checks what it answers and remembers it.
type mechanism struct {
	*supervisor
	life    context.Context // of this program at this host
	end     func()          // ends life
	users   users
	cache   *cache // shared by all
	flights singleflight.Group
}

// id is the style's id, or the program's name until it has said one.
func (m *mechanism) id() string {
	now, _ := m.present()
	if now.description == nil {
		return m.program.name
	}
	return now.description.style.ID
}

// described returns the last description, also of a program that is down: what it answered before
// still holds.
func (m *mechanism) described(ctx context.Context) (*description, error) {
	if now, _ := m.present(); now.description != nil {
		return now.description, nil
	}
	if _, err := m.serving(ctx, nil); err != nil {
		return nil, err
	}
	now, _ := m.present()
	return now.description, nil
}

// options answers for every row. Rows off the style's schemas are answered here; the program is asked
// once for all others.
func (m *mechanism) options(ctx context.Context, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	d, err := m.described(ctx)
	if err != nil {
		return nil, err
	}
	question := key(d, "options").texts(q.Figures).settings(q.Rows)
	answer, err := m.answer(ctx, string(question), func(ctx context.Context) (any, int, error) {
		rows, err := m.askOptions(ctx, d, q)
		return rows, sizeOfOptions(rows), err
	})
	if err != nil {
		return nil, err
	}
	return answer.([]leveling.RowOptions), nil
}

func (m *mechanism) askOptions(ctx context.Context, d *description, q leveling.OptionsQuestion) ([]leveling.RowOptions, error) {
	wrong, err := d.violations(q.Figures, q.Rows)
	if err != nil {
		return nil, err
	}
	var asked []leveling.RowSetting
	request := &adjusterv1.OptionsRequest{Mechanisms: figures(q.Figures)}
	for i, row := range q.Rows {
		if wrong[i] == nil {
			asked = append(asked, row)
			request.Rows = append(request.Rows, &adjusterv1.RowSetting{Mechanism: int32(row.Mechanism), Setting: string(row.Setting)})
		}
	}
	answered, err := m.checkedOptions(ctx, d, asked, request)
	if err != nil {
		return nil, err
	}
	rows := make([]leveling.RowOptions, len(q.Rows))
	for i := range rows {
		if wrong[i] != nil {
			rows[i].Violations = wrong[i]
			continue
		}
		rows[i], answered = answered[0], answered[1:]
	}
	return rows, nil
}

func (m *mechanism) checkedOptions(ctx context.Context, d *description, asked []leveling.RowSetting, request *adjusterv1.OptionsRequest) ([]leveling.RowOptions, error) {
	if len(asked) == 0 {
		return nil, nil
	}
	var response *adjusterv1.OptionsResponse
	err := m.ask(ctx, "options", func(ctx context.Context, client adjusterv1.AdjusterClient) (err error) {
		response, err = client.Options(ctx, request)
		return err
	})
	if err != nil {
		return nil, err
	}
	rows, err := d.rowOptions(asked, response.GetRows())
	if err != nil {
		return nil, m.wrong(err)
	}
	return rows, nil
}

// say gives the words for every choice.
func (m *mechanism) say(ctx context.Context, fs []leveling.JSON, choices []leveling.Choice, v leveling.Voice) ([]leveling.Words, error) {
	d, err := m.described(ctx)
	if err != nil {
		return nil, err
	}
	to := readerOf(v)
	question := key(d, "say").text(to.language).text(to.unit.String()).texts(fs).choices(choices)
	answer, err := m.answer(ctx, string(question), func(ctx context.Context) (any, int, error) {
		said, err := m.askWords(ctx, d, fs, choices, to)
		return said, sizeOfWords(said), err
	})
	if err != nil {
		return nil, err
	}
	return copyWords(answer.([]leveling.Words)), nil
}

func (m *mechanism) askWords(ctx context.Context, d *description, fs []leveling.JSON, choices []leveling.Choice, to reader) ([]leveling.Words, error) {
	request := &adjusterv1.SayRequest{Mechanisms: figures(fs), Language: to.language, LengthUnit: to.unit}
	rows := make([]leveling.RowSetting, len(choices))
	for i, c := range choices {
		rows[i] = c.RowSetting
		request.Choices = append(request.Choices, &adjusterv1.Choice{
			Mechanism: int32(c.Mechanism), Setting: string(c.Setting), Option: option(c.Option)})
	}
	wrong, err := d.violations(fs, rows)
	if err != nil {
		return nil, err
	}
	if bad := slices.Concat(wrong...); len(bad) > 0 {
		return nil, leveling.Violations(bad).Err()
	}
	var response *adjusterv1.SayResponse
	err = m.ask(ctx, "say", func(ctx context.Context, client adjusterv1.AdjusterClient) (err error) {
		response, err = client.Say(ctx, request)
		return err
	})
	if err != nil {
		return nil, err
	}
	said, err := words(choices, response.GetWords())
	if err != nil {
		return nil, m.wrong(err)
	}
	return said, nil
}

// style is the style in a reader's words, with its state. Where it cannot be asked, its English in mm stands in.
func (m *mechanism) style(ctx context.Context, v leveling.Voice) leveling.Style {
	now, _ := m.present()
	if now.description == nil {
		return leveling.Style{ID: m.program.name, State: now.state, StateReason: now.reason}
	}
	style := now.description.style
	if to := readerOf(v); to != readerOf(leveling.Voice{}) {
		style = m.translated(ctx, now.description, to)
	}
	style.State, style.StateReason = now.state, now.reason
	return copyStyle(style)
}

// translated is the style in the words of another reader. A description that is wrong there is said once in the
// log; English in mm stands in.
func (m *mechanism) translated(ctx context.Context, d *description, to reader) leveling.Style {
	answer, err := m.answer(ctx, string(key(d, "describe").text(to.language).text(to.unit.String())), func(ctx context.Context) (any, int, error) {
		var response *adjusterv1.DescribeResponse
		err := m.ask(ctx, "describe", func(ctx context.Context, client adjusterv1.AdjusterClient) (err error) {
			response, err = client.Describe(ctx, &adjusterv1.DescribeRequest{Language: to.language, LengthUnit: to.unit})
			return err
		})
		if err != nil {
			return nil, 0, err
		}
		other, err := newDescription(response.GetStyle(), m.program)
		if err == nil && !sameStyle(other.style, d.style) {
			err = errors.New("it is another style in that language or unit")
		}
		if err != nil {
			m.log.Warn("adjuster describes itself wrongly", zap.String("language", to.language), zap.Stringer("unit", to.unit), zap.Error(err))
			other = d
		}
		return other.style, len(other.style.FiguresSchema) + len(other.style.SettingSchema) + maxLongText, nil
	})
	if err != nil {
		return d.style
	}
	return answer.(leveling.Style)
}

// sameStyle compares what no language and no unit may change.
func sameStyle(a, b leveling.Style) bool {
	return a.ID == b.ID && a.KeepsMarks == b.KeepsMarks && a.SetsPlantingDepth == b.SetsPlantingDepth && a.Approach == b.Approach &&
		a.ScaleSd == b.ScaleSd && a.SeatingMm == b.SeatingMm && a.SlackMm == b.SlackMm && a.TouchSeconds == b.TouchSeconds
}

// violations says which rows are off the style's schemas, and how. An error is a mistake of the caller
// in the service, not of the request.
func (d *description) violations(fs []leveling.JSON, rows []leveling.RowSetting) ([][]leveling.Violation, error) {
	if len(rows) > adjuster.MaxRows {
		return nil, fmt.Errorf("%d rows in one question, at most %d", len(rows), adjuster.MaxRows)
	}
	ofFigures := make([][]leveling.Violation, len(fs))
	for i, f := range fs {
		ofFigures[i] = violationsOf(d.figures, "figures", f)
	}
	wrong := make([][]leveling.Violation, len(rows))
	for i, row := range rows {
		if row.Mechanism < 0 || row.Mechanism >= len(fs) {
			return nil, fmt.Errorf("row %d of the question has the mechanism %d of %d", i, row.Mechanism, len(fs))
		}
		wrong[i] = ofFigures[row.Mechanism]
		if row.Setting != "" {
			wrong[i] = append(slices.Clip(wrong[i]), violationsOf(d.setting, "setting", row.Setting)...)
		}
	}
	return wrong, nil
}

func violationsOf(s *schema.Schema, field string, text leveling.JSON) []leveling.Violation {
	var out []leveling.Violation
	for _, v := range s.Check(field, string(text)) {
		out = append(out, leveling.Violation{Field: v.Field, Say: leveling.Text(v.Message)})
	}
	return out
}

// answer gives a remembered answer, or finds it. Callers with the same question share one search, which
// goes on when one of them leaves; the host's life and its own bound end it.
func (m *mechanism) answer(ctx context.Context, question string, find func(context.Context) (answer any, bytes int, err error)) (any, error) {
	if known, ok := m.cache.get(question); ok {
		return known, nil
	}
	flight := m.flights.DoChan(question, func() (any, error) {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), m.supervisor.options.CallTimeout) // what is traced goes on
		defer cancel()
		defer context.AfterFunc(m.life, cancel)()
		answer, bytes, err := find(ctx)
		if err == nil {
			m.cache.add(question, answer, bytes)
		}
		return answer, err
	})
	select {
	case landed := <-flight:
		return landed.Val, landed.Err
	case <-ctx.Done():
		return nil, m.failed(ctx.Err())
	}
}

// ask puts one question to the program. Where the program dies over it, it is asked once more after
// the restart: questions are pure.
func (m *mechanism) ask(ctx context.Context, question string, call func(context.Context, adjusterv1.AdjusterClient) error) error {
	var lost *process
	for {
		p, err := m.serving(ctx, lost)
		if err != nil {
			return err
		}
		begun := time.Now()
		err = call(ctx, p.ask)
		m.supervisor.options.Meter.Asked(m.program.name, question, err == nil, time.Since(begun))
		if err == nil {
			p.slow.Store(0)
			return nil
		}
		if status.Code(err) == codes.DeadlineExceeded {
			p.slow.Add(1)
		}
		m.suspicious()
		if !connectionLost(ctx, err) {
			return m.failed(err)
		}
		if lost != nil {
			return m.down("The adjuster ended twice over this question.", err)
		}
		lost = p
	}
}

// connectionLost says whether the program went away during a call. Canceled is what the connection
// says when the host itself has closed it.
func connectionLost(ctx context.Context, err error) bool {
	code := status.Code(err)
	return ctx.Err() == nil && (code == codes.Unavailable || code == codes.Canceled)
}

// serving waits until the program serves in a run other than lost, for as long as a restart may take.
func (m *mechanism) serving(ctx context.Context, lost *process) (*process, error) {
	wait := time.NewTimer(m.supervisor.options.HealWithin)
	defer wait.Stop()
	for until := time.Now().Add(m.supervisor.options.HealWithin); ; {
		now, changed := m.present()
		switch {
		case now.process != nil && now.process != lost:
			return now.process, nil
		case now.state == leveling.Quarantined || now.nextLaunch.After(until):
			return nil, m.down(now.reason, nil)
		}
		select {
		case <-changed:
		case <-wait.C:
			return nil, m.down(now.reason, nil)
		case <-ctx.Done():
			return nil, m.failed(ctx.Err())
		}
	}
}

// failed puts an error of a call into the words of the core.
func (m *mechanism) failed(err error) error {
	id := m.id()
	switch {
	case errors.Is(err, context.Canceled) && m.life.Err() == nil:
		return fmt.Errorf("asking the adjuster of style %q: %w", id, err) // the caller has left
	case m.life.Err() != nil:
		return m.down("It is being stopped.", err)
	case errors.Is(err, context.DeadlineExceeded) || status.Code(err) == codes.DeadlineExceeded:
		return &leveling.Error{Kind: leveling.DeadlineExceeded, Reason: "ADJUSTER_SLOW", Err: err,
			Message:  fmt.Sprintf("The adjuster of style %q did not answer in time.", id),
			Metadata: map[string]string{"style": id}}
	}
	return m.wrong(fmt.Errorf("it failed by itself: %w", err))
}

func (m *mechanism) down(why string, err error) error {
	id := m.id()
	return &leveling.Error{Kind: leveling.Unavailable, Reason: "ADJUSTER_DOWN", Err: err,
		Message:  fmt.Sprintf("The adjuster of style %q is down. %s", id, why),
		Metadata: map[string]string{"style": id}}
}

func (m *mechanism) wrong(err error) error {
	id := m.id()
	e := &leveling.Error{Kind: leveling.Internal, Reason: "ADJUSTER_WRONG", Err: err,
		Message:  fmt.Sprintf("The adjuster of style %q answered wrongly: %s.", id, err),
		Metadata: map[string]string{"style": id}}
	if _, own := status.FromError(err); own {
		e.Message = fmt.Sprintf("The adjuster of style %q failed over this question.", id)
	}
	return e
}

func figures(fs []leveling.JSON) []*adjusterv1.MechanismFigures {
	out := make([]*adjusterv1.MechanismFigures, len(fs))
	for i, f := range fs {
		out[i] = &adjusterv1.MechanismFigures{Figures: string(f)}
	}
	return out
}

func option(o leveling.Option) *adjusterv1.Option {
	out := &adjusterv1.Option{Leave: o.Leave, EffectMm: o.EffectMm, Count: o.Count, SettingAfter: string(o.SettingAfter)}
	if o.TravelKnown {
		out.ShallowerLeftMm, out.DeeperLeftMm = &o.ShallowerLeftMm, &o.DeeperLeftMm
	}
	if o.Seconds > 0 {
		out.Seconds = &o.Seconds
	}
	return out
}

// reader is whom an adjuster's words are for.
type reader struct {
	language string
	unit     adjusterv1.LengthUnit
}

func readerOf(v leveling.Voice) reader {
	to := reader{tag(string(v.Language)), adjusterv1.LengthUnit_LENGTH_UNIT_MM}
	if v.LengthUnit() == leveling.Inch {
		to.unit = adjusterv1.LengthUnit_LENGTH_UNIT_IN
	}
	return to
}

// tag is the language passed on; what is no tag at all is English.
func tag(language string) string {
	if len(language) > maxLanguage {
		return ""
	}
	for _, r := range language {
		if (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') && (r < '0' || r > '9') && r != '-' {
			return ""
		}
	}
	return language
}

// question is the whole of what is asked as bytes, every part preceded by its length or count, so that
// no two questions are alike.
type question []byte

func key(d *description, verb string) question {
	return question(nil).text(d.generation).text(verb)
}

func (q question) text(s string) question {
	return append(append(strconv.AppendInt(q, int64(len(s)), 10), ':'), s...)
}

func (q question) number(n int) question {
	return append(strconv.AppendInt(q, int64(n), 10), ';')
}

func (q question) texts(list []leveling.JSON) question {
	q = q.number(len(list))
	for _, s := range list {
		q = q.text(string(s))
	}
	return q
}

func (q question) settings(rows []leveling.RowSetting) question {
	q = q.number(len(rows))
	for _, r := range rows {
		q = q.number(r.Mechanism).text(string(r.Setting))
	}
	return q
}

func (q question) choices(list []leveling.Choice) question {
	q = q.number(len(list))
	for _, c := range list {
		q = q.number(c.Mechanism).text(string(c.Setting)).text(string(c.Option.SettingAfter))
		for _, x := range []float64{c.Option.EffectMm, c.Option.Count, c.Option.ShallowerLeftMm, c.Option.DeeperLeftMm, c.Option.Seconds} {
			q = append(strconv.AppendUint(q, math.Float64bits(x), 16), ';')
		}
		q = strconv.AppendBool(strconv.AppendBool(q, c.Option.Leave), c.Option.TravelKnown)
	}
	return q
}

// Callers may change what they get; what is remembered stays as it is. Options are thousands a plan, and shared.

func copyWords(list []leveling.Words) []leveling.Words {
	out := slices.Clone(list)
	for i := range out {
		out[i].Cautions = slices.Clone(out[i].Cautions)
	}
	return out
}

func copyStyle(s leveling.Style) leveling.Style {
	s.Cautions = slices.Clone(s.Cautions)
	s.InspectionPoints = slices.Clone(s.InspectionPoints)
	for i, p := range s.InspectionPoints {
		if p.Limit != nil {
			limit := *p.Limit
			s.InspectionPoints[i].Limit = &limit
		}
	}
	return s
}

// Sizes are about right; the bound on the cache needs no more.

func sizeOfOptions(rows []leveling.RowOptions) int {
	const each = 80 // of the struct itself
	size := 0
	for _, r := range rows {
		size += each
		for _, o := range r.Options {
			size += each + len(o.SettingAfter)
		}
		for _, v := range r.Violations {
			size += each + len(v.Field) + len(v.Say(leveling.Voice{}))
		}
	}
	return size
}

func sizeOfWords(list []leveling.Words) int {
	const each = 80
	size := 0
	for _, w := range list {
		size += each + len(w.Say)
		for _, c := range w.Cautions {
			size += each + len(c)
		}
	}
	return size
}

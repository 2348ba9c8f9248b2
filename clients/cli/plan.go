package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"rowdatum/clients/cli/api"
	"rowdatum/clients/cli/draw"
	"rowdatum/clients/cli/sheet"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/proto/length"
)

// aimFlags override what a file says.
type aimFlags struct {
	Aim          aimFlag    `placeholder:"AIM" help:"Which plan: least-work, closest, match-row=4 or set-depth=2in; over what the file or the job says."`
	Tolerance    lengthFlag `placeholder:"LENGTH" help:"Half of the allowed band, like 1/8in or 3mm; over what the file or the job says."`
	ConfidenceOf string     `enum:"row,planter," default:"" placeholder:"row|planter" help:"What the confidence is about: each row for itself, or all rows together; over what the file or the job says."`
	Confidence   numberFlag `placeholder:"SHARE" help:"How sure a verdict must be, 0.5 or more and below 1; over what the file or the job says."`
}

// over is an aim with what the flags say in its place; nil where neither says anything.
func (f aimFlags) over(aim *rowdatumv1.Aim) *rowdatumv1.Aim {
	values, _ := f.fields()
	if len(values) == 0 {
		return aim
	}
	request := &rowdatumv1.ComputePlanRequest{Aim: &rowdatumv1.Aim{}}
	if aim != nil {
		request.Aim = proto.CloneOf(aim)
	}
	if f.Aim.Aim != nil {
		if f.Aim.Kind != rowdatumv1.Aim_SET_DEPTH {
			request.Aim.ZeroUncertaintyMm = nil
		}
		f.Aim.Apply(request)
	}
	if f.Tolerance.mm != nil {
		request.Aim.ToleranceMm = f.Tolerance.mm
	}
	if f.Confidence.x != nil {
		request.Aim.Confidence = f.Confidence.x
	}
	if f.ConfidenceOf != "" {
		request.Aim.ConfidenceOf = rowdatumv1.Aim_ConfidenceOf(rowdatumv1.Aim_ConfidenceOf_value[strings.ToUpper(f.ConfidenceOf)])
	}
	return request.Aim
}

// aimFlag is an aim on the command line; the zero value says nothing.
type aimFlag struct{ *sheet.Aim }

// UnmarshalText reads an aim.
func (f *aimFlag) UnmarshalText(text []byte) error {
	aim, err := sheet.ParseAim(string(text), length.Reading{})
	f.Aim = &aim
	return err
}

// lengthFlag is a length on the command line; the zero value says nothing.
type lengthFlag struct{ mm *float64 }

// UnmarshalText reads a length, which must say its unit.
func (f *lengthFlag) UnmarshalText(text []byte) error {
	mm, err := length.Reading{}.Mm(string(text))
	if err != nil {
		return errors.New(sheet.NotNumber(string(text), err, " is not a length with its unit; write 1/8in or 3mm"))
	}
	x := length.Float(mm)
	f.mm = &x
	return nil
}

// numberFlag is a number on the command line; the zero value says nothing.
type numberFlag struct{ x *float64 }

// UnmarshalText reads a number, which is always finite.
func (f *numberFlag) UnmarshalText(text []byte) error {
	number, err := length.Reading{}.Number(string(text))
	if err != nil {
		return errors.New(sheet.NotNumber(string(text), err, " is not a number; write one like 0.9"))
	}
	x := length.Float(number)
	f.x = &x
	return nil
}

// fields are the parts of the request's aim that the flags set, each with the flag's name; nil takes a
// part out.
func (f aimFlags) fields() (values map[string]any, flag map[string]string) {
	values, flag = map[string]any{}, map[string]string{}
	set := func(name, of string, value any) { values[name], flag["aim."+name] = value, of }
	if f.Aim.Aim != nil {
		set("kind", "--aim", f.Aim.Kind.String())
		set("row", "--aim", nil)
		set("datumMm", "--aim", nil)
		switch f.Aim.Kind {
		case rowdatumv1.Aim_MATCH_ROW:
			set("row", "--aim", f.Aim.Row)
		case rowdatumv1.Aim_SET_DEPTH:
			set("datumMm", "--aim", f.Aim.DatumMm)
		}
	}
	if f.Tolerance.mm != nil {
		set("toleranceMm", "--tolerance", *f.Tolerance.mm)
	}
	if f.Confidence.x != nil {
		set("confidence", "--confidence", *f.Confidence.x)
	}
	if f.ConfidenceOf != "" {
		set("confidenceOf", "--confidence-of", strings.ToUpper(f.ConfidenceOf))
	}
	return values, flag
}

// planCommand is rowdatum plan.
type planCommand struct {
	aimFlags
	File string `arg:"" help:"The planter's file: a spreadsheet saved as CSV, or a request as JSON; - reads standard input."`
}

// Run prints a plan.
func (c *planCommand) Run(ctx context.Context, a *app) error {
	file, err := a.read(c.File)
	if err != nil {
		return err
	}
	return a.withService(ctx, unitFlag{}, func(client *api.Client, styles []*rowdatumv1.Style) error {
		return a.plan(ctx, client, styles, c.File, file, c.aimFlags)
	})
}

// plan has the service plan one file and prints the answer.
func (a *app) plan(ctx context.Context, client *api.Client, styles []*rowdatumv1.Style, name string, file []byte, aim aimFlags) error {
	request, question, wrong := readRequest(name, file, styles, a.beside(name))
	var mistakes sheet.Mistakes
	if wrong != nil && !errors.As(wrong, &mistakes) {
		return wrong
	}
	values, flagOf := aim.fields()
	request = override(request, values)
	plan, answer, err := client.Compute(ctx, request)
	if mistakes != nil {
		return mistakesIn(name, withRefused(mistakes, err, question.locate))
	}
	if err != nil {
		return refusedIn(name, err, question.locate, flagOf)
	}
	if a.flags.JSON {
		return a.printJSON(answer)
	}
	drawn := draw.Question{Planter: question.planter, Request: &rowdatumv1.ComputePlanRequest{}, Styles: styles}
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(request, drawn.Request); err != nil {
		return fmt.Errorf("%s cannot be drawn; --json prints the answer as it is", name)
	}
	drawn.Unit = draw.UnitOf(length.NoUnit, drawn.Request.GetLengthUnit())
	_, err = fmt.Fprint(a.stdout, draw.Plan(drawn, plan))
	return err
}

// question is what a file says beyond the request.
type question struct {
	planter string
	locate  func(path string) (sheet.Place, bool)
}

// readRequest makes the request's JSON of a file: of JSON as it stands, else of a sheet.
func readRequest(name string, file []byte, styles []*rowdatumv1.Style, open sheet.Opener) ([]byte, question, error) {
	if bytes.HasPrefix(bytes.TrimSpace(bytes.TrimPrefix(file, []byte("\uFEFF"))), []byte("{")) {
		return bytes.TrimPrefix(file, []byte("\uFEFF")), question{planter: name, locate: nowhere}, nil
	}
	s, wrong := sheet.Parse(file, styles, open)
	request, err := protojson.Marshal(s.Request)
	return request, question{planter: s.Planter, locate: s.Locate}, cmp.Or(wrong, err)
}

// withRefused adds what the service finds wrong with what could be read of a file that has mistakes, so that
// all can be mended at once. On a line that has a mistake already it only sees what that left out.
func withRefused(mistakes sheet.Mistakes, err error, locate func(string) (sheet.Place, bool)) sheet.Mistakes {
	var refused *api.RefusedError
	if !errors.As(err, &refused) {
		return mistakes
	}
	type lineOf struct {
		file string
		line int
	}
	known := map[lineOf]bool{}
	for _, m := range mistakes {
		known[lineOf{m.File, m.Line}] = true
	}
	for _, v := range refused.Violations {
		if place, ok := locate(v.Field); ok && !known[lineOf{place.File, place.Line}] {
			mistakes = append(mistakes, sheet.Mistake{Place: place, Message: v.Description})
		}
	}
	mistakes.Sort()
	return mistakes
}

// maxMistakes is how many are printed: more on one screen help nobody.
const maxMistakes = 40

// mistakesIn heads a file's mistakes with how many there are.
func mistakesIn(name string, err error) error {
	var mistakes sheet.Mistakes
	if !errors.As(err, &mistakes) {
		return err
	}
	head := fmt.Sprintf("%s has %d mistakes; nothing came of it", name, len(mistakes))
	if len(mistakes) == 1 {
		head = name + " has a mistake; nothing came of it"
	}
	rest := ""
	if over := len(mistakes) - maxMistakes; over > 0 {
		mistakes, rest = mistakes[:maxMistakes], fmt.Sprintf("\n  and %d more", over)
	}
	return errors.New(head + "\n  " + strings.ReplaceAll(mistakes.Error(), "\n", "\n  ") + rest)
}

// refusedIn says where in the file, or in which flag, the service found what it refuses.
func refusedIn(name string, err error, locate func(string) (sheet.Place, bool), flagOf map[string]string) error {
	var refused *api.RefusedError
	if !errors.As(err, &refused) {
		return err
	}
	if len(refused.Violations) == 0 {
		return fmt.Errorf("%s was refused: %w", name, err)
	}
	var inFile sheet.Mistakes
	var elsewhere string
	for _, v := range refused.Violations {
		if flag, ok := flagOf[v.Field]; ok {
			elsewhere += fmt.Sprintf("\n  %s: %s", flag, v.Description)
		} else if place, ok := locate(v.Field); ok {
			inFile = append(inFile, sheet.Mistake{Place: place, Message: v.Description})
		} else {
			elsewhere += fmt.Sprintf("\n  %s: %s", v.Field, v.Description)
		}
	}
	text := fmt.Sprintf("%s was refused: %s", name, refused.Message)
	if len(inFile) > 0 {
		inFile.Sort()
		text += "\n  " + strings.ReplaceAll(inFile.Error(), "\n", "\n  ")
	}
	return errors.New(text + elsewhere)
}

// override puts values into the aim of a request, nil taking a part out. What is no JSON object goes to
// the service as it is: the service says better what is wrong with it.
func override(request []byte, values map[string]any) []byte {
	if len(values) == 0 {
		return request
	}
	var fields, aim map[string]json.RawMessage
	if json.Unmarshal(request, &fields) != nil {
		return request
	}
	if json.Unmarshal(fields["aim"], &aim) != nil || aim == nil {
		aim = map[string]json.RawMessage{}
	}
	for name, value := range values {
		delete(aim, name)
		delete(aim, strings.Replace(name, "Mm", "_mm", 1)) // a request may spell names either way
		if value != nil {
			aim[name], _ = json.Marshal(value) // a word or a finite number: never an error
		}
	}
	fields["aim"], _ = json.Marshal(aim)
	merged, err := json.Marshal(fields)
	if err != nil {
		return request
	}
	return merged
}

// printMessage prints what was gathered from several answers, in the JSON of the service.
func (a *app) printMessage(message proto.Message) error {
	text, err := (protojson.MarshalOptions{EmitDefaultValues: true}).Marshal(message)
	if err != nil {
		return err
	}
	return a.printJSON(text)
}

// printJSON prints an answer, indented.
func (a *app) printJSON(answer []byte) error {
	var out bytes.Buffer
	if err := json.Indent(&out, answer, "", "  "); err != nil {
		return fmt.Errorf("the service's answer is not JSON: %w", err)
	}
	_, err := fmt.Fprintln(a.stdout, out.String())
	return err
}

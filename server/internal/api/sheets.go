package api

import (
	"bytes"
	"context"
	"fmt"
	"io"

	"google.golang.org/genproto/googleapis/api/httpbody"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	pb "rowdatum/proto/gen/rowdatum/v1"
	"rowdatum/server/internal/sheet"
	"rowdatum/server/leveling"
)

// sheetsAtOnce is how many sheets are written side by side; the others wait, as long as somebody waits for them.
const sheetsAtOnce = 4

// sheetForm is one way to write a sheet.
type sheetForm struct {
	contentType, ending string
	write               func(ctx context.Context, s *sheet.Sheet, w io.Writer, paper sheet.Paper) error
}

var sheetForms = map[pb.GetJobSheetRequest_Format]sheetForm{
	pb.GetJobSheetRequest_HTML: {contentType: "text/html; charset=utf-8", write: func(_ context.Context, s *sheet.Sheet, w io.Writer, _ sheet.Paper) error { return s.HTML(w) }},
	pb.GetJobSheetRequest_PDF:  {contentType: "application/pdf", ending: ".pdf", write: func(ctx context.Context, s *sheet.Sheet, w io.Writer, p sheet.Paper) error { return s.PDF(ctx, w, p) }},
	pb.GetJobSheetRequest_CSV:  {contentType: "text/csv; charset=utf-8", ending: ".csv", write: func(_ context.Context, s *sheet.Sheet, w io.Writer, _ sheet.Paper) error { return s.CSV(w) }},
	pb.GetJobSheetRequest_JSON: {contentType: "application/json", ending: ".json", write: func(_ context.Context, s *sheet.Sheet, w io.Writer, _ sheet.Paper) error { return s.JSON(w) }},
}

var sheetPapers = map[pb.GetJobSheetRequest_Paper]sheet.Paper{
	pb.GetJobSheetRequest_PAPER_UNSPECIFIED: sheet.A4, pb.GetJobSheetRequest_A4: sheet.A4, pb.GetJobSheetRequest_LETTER: sheet.Letter,
}

// GetJobSheet implements JobService.
func (s *Jobs) GetJobSheet(ctx context.Context, req *pb.GetJobSheetRequest) (*httpbody.HttpBody, error) {
	key, err := jobKey(callerOf(ctx), "name", req.GetName())
	if err != nil {
		return nil, err
	}
	form, paper, language, err := sheetAsked(ctx, req)
	if err != nil {
		return nil, err
	}
	select {
	case s.sheets <- struct{}{}:
		defer func() { <-s.sheets }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	view, log, err := s.Flow.JobAndLog(ctx, key)
	if err != nil {
		return nil, err
	}
	o := sheet.Options{Language: language, Log: log, Styles: map[string]leveling.Style{}}
	for id := range view.State.Opened.Styles {
		if style, err := s.Flow.Style(ctx, id, view.State.Voice(o.Language)); err == nil { // else the job's own copy stands in
			o.Styles[id] = style
		}
	}
	var text bytes.Buffer
	if err := form.write(ctx, sheet.New(view.Head, view.State, o), whileWanted{ctx, &text}, paper); err != nil {
		return nil, fmt.Errorf("writing the sheet of job %s: %w", key.Job, err)
	}
	if err := grpc.SetHeader(ctx, form.headers(key.Planter+"-"+key.Job)); err != nil {
		return nil, err
	}
	return &httpbody.HttpBody{ContentType: form.contentType, Data: text.Bytes()}, nil
}

// whileWanted writes until the request has ended: nobody waits for the sheet any more then.
type whileWanted struct {
	ctx context.Context
	w   io.Writer
}

// Write implements io.Writer.
func (w whileWanted) Write(text []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	return w.w.Write(text)
}

func sheetAsked(ctx context.Context, req *pb.GetJobSheetRequest) (sheetForm, sheet.Paper, leveling.Language, error) {
	var v leveling.Violations
	format := req.GetFormat()
	if format == pb.GetJobSheetRequest_FORMAT_UNSPECIFIED {
		format = pb.GetJobSheetRequest_HTML
	}
	form, known := sheetForms[format]
	if !known {
		v.Add("format", "is %d, must be HTML, PDF, CSV or JSON", format)
	}
	paper, known := sheetPapers[req.GetPaper()]
	if !known {
		v.Add("paper", "is %d, must be A4 or LETTER", req.GetPaper())
	}
	language := languageOf(ctx)
	if tag := req.GetLanguage(); tag != "" {
		if language, known = spokenIn(tag); !known {
			v.Add("language", "is %q, must be %s", tag, spokenTags())
		}
	}
	return form, paper, language, v.Err()
}

// headers are what a gateway sends along: a page's own policy, a file's own name.
func (f sheetForm) headers(name string) metadata.MD {
	if f.ending == "" {
		return metadata.Pairs("content-security-policy", sheet.Policy())
	}
	return metadata.Pairs("content-disposition", fmt.Sprintf("inline; filename=%q", name+f.ending))
}

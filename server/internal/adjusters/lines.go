package adjusters

import (
	"bytes"
	"encoding/json"
	"io"
	"sync"
	"time"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
)

const (
	// maxLine is how much of one line of an adjuster goes into the log.
	maxLine = 8 << 10
	// linesPerSecond is how many lines of one run go into the log; a flood is counted, not kept.
	linesPerSecond = 200
)

// output turns what one run of a program prints into events of the service's log, one a line.
type output struct {
	log *zap.Logger // carries the style's name

	mu      sync.Mutex
	second  time.Time // start of the second that is counted
	count   int       // lines of this second
	dropped int       // lines not logged since the last one that was
}

// writer returns a writer for one of the program's streams.
func (o *output) writer(stream string) io.Writer { return &lines{to: o, stream: stream} }

// copy logs a stream to its end, the last line even where it has none.
func (o *output) copy(stream string, from io.Reader) {
	l := &lines{to: o, stream: stream}
	_, _ = io.Copy(l, from)
	o.line(stream, l.kept, l.long)
}

// flush says how many lines were dropped last.
func (o *output) flush() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.sayDropped()
}

func (o *output) sayDropped() {
	if o.dropped > 0 {
		o.log.Warn("the adjuster printed more than is kept", zap.Int("lines_dropped", o.dropped))
	}
	o.dropped = 0
}

// admit counts a line and says whether it is to be logged.
func (o *output) admit(now time.Time) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if now.Sub(o.second) >= time.Second {
		o.second, o.count = now, 0
		o.sayDropped()
	}
	if o.count++; o.count > linesPerSecond {
		o.dropped++
		return false
	}
	return true
}

// line logs one line. JSON as the plugin library's logger writes it keeps its level and message; all
// else, JSON of any other shape included, is an event as it stands.
func (o *output) line(stream string, text []byte, truncated bool) {
	if len(text) == 0 || !o.admit(time.Now()) {
		return
	}
	fields := []zap.Field{zap.String("stream", stream)}
	if truncated {
		fields = append(fields, zap.Bool("truncated", true))
	}
	level, message, rest := structured(text)
	if len(rest) > 0 {
		fields = append(fields, zap.Any("fields", rest))
	}
	o.log.Log(level, message, fields...)
}

// structured reads a line of the plugin library's logger.
func structured(text []byte) (level zapcore.Level, message string, rest map[string]any) {
	plain := string(bytes.ToValidUTF8(text, []byte("\uFFFD")))
	if text[0] != '{' || json.Unmarshal(text, &rest) != nil {
		return zap.InfoLevel, plain, nil
	}
	message, isText := rest["@message"].(string)
	if !isText {
		return zap.InfoLevel, plain, nil
	}
	said, _ := rest["@level"].(string)
	for _, known := range []string{"@message", "@level", "@timestamp"} {
		delete(rest, known)
	}
	return map[string]zapcore.Level{
		"trace": zap.DebugLevel, "debug": zap.DebugLevel, "warn": zap.WarnLevel, "error": zap.ErrorLevel,
	}[said], message, rest // any other level is info, zap's zero level
}

// lines splits a stream into lines.
type lines struct {
	to     *output
	stream string

	mu   sync.Mutex
	kept []byte // of the line so far, at most maxLine
	long bool   // the line so far is longer
}

// Write never fails: a program is not to be blocked by its log.
func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	n := len(p)
	for {
		part, after, whole := bytes.Cut(p, []byte("\n"))
		room := min(len(part), maxLine-len(l.kept))
		l.kept = append(l.kept, part[:room]...)
		l.long = l.long || room < len(part)
		if !whole {
			return n, nil
		}
		l.to.line(l.stream, bytes.TrimSuffix(l.kept, []byte("\r")), l.long)
		l.kept, l.long, p = l.kept[:0], false, after
	}
}

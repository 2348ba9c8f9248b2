// Command monitor shows a planter in a terminal: what its last signed job left, and the job that is open, as it goes. It
// only reads; a reader's key will do. It is an example to start from: the calls are in follow and show, the rest draws.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"text/tabwriter"

	rowdatum "rowdatum/clients/go"
	rowdatumv1 "rowdatum/proto/gen/rowdatum/v1"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout); err != nil && !errors.Is(err, context.Canceled) {
		fmt.Fprintln(os.Stderr, "monitor:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out io.Writer) error {
	flags := flag.NewFlagSet("monitor", flag.ContinueOnError)
	service := flags.String("service", "127.0.0.1:7401", "gRPC address of the service")
	authority := flags.String("authority", "", "`file` with the certificate of the shop's own authority")
	plain := flags.Bool("plain", false, "speak without TLS: whoever is on the network reads along")
	flags.Usage = func() {
		fmt.Fprintln(flags.Output(), "usage: monitor [flags] PLANTER\nThe key is read from the variable ROWDATUM_KEY.")
		flags.PrintDefaults()
	}
	if err := flags.Parse(args); err != nil {
		return err
	}
	if flags.NArg() != 1 {
		return errors.New("one planter is to be named: monitor creek-six")
	}
	o := rowdatum.Options{Key: os.Getenv("ROWDATUM_KEY"), Plain: *plain}
	if *authority != "" {
		pem, err := os.ReadFile(*authority)
		if err != nil {
			return err
		}
		o.Authority = pem
	}
	client, err := rowdatum.Dial(*service, o)
	if err != nil {
		return err
	}
	defer client.Close()
	m := &monitor{client, out}
	return m.follow(ctx, "planters/"+strings.TrimPrefix(flags.Arg(0), "planters/"))
}

type monitor struct {
	client *rowdatum.Client
	out    io.Writer
}

// follow shows the planter's card, then its newest open job until that is closed, and then the card again.
func (m *monitor) follow(ctx context.Context, planter string) error {
	if err := m.show(ctx, planter); err != nil {
		return err
	}
	list, err := m.client.Jobs.ListJobs(ctx, &rowdatumv1.ListJobsRequest{Parent: planter, Filter: "stage=OPEN", PageSize: 1})
	if err != nil {
		return err
	}
	if len(list.GetJobs()) == 0 {
		fmt.Fprintln(m.out, "No job is open.")
		return nil
	}
	job := list.GetJobs()[0]
	for news, err := range m.client.Watch(ctx, job.GetName(), 0) {
		if err != nil {
			return err
		}
		m.drawJob(news)
	}
	return m.show(ctx, planter)
}

// show draws the index card.
func (m *monitor) show(ctx context.Context, planter string) error {
	card, err := m.client.Field.GetIndexCard(ctx, &rowdatumv1.GetIndexCardRequest{Name: planter})
	if err != nil {
		return err
	}
	fmt.Fprintf(m.out, "\n%s (%s)\n", card.GetDisplayName(), planter)
	if card.GetJob() == "" {
		fmt.Fprintln(m.out, "No job is signed yet.")
		return nil
	}
	fmt.Fprintf(m.out, "signed by %s on %s, datum %s, spread %s\n", card.GetPerson(),
		card.GetSignTime().AsTime().Local().Format("2006-01-02"), mm(card.DatumMm), mm(card.SpreadMm))
	table := tabwriter.NewWriter(m.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "row\toff datum\tverdict\thow known\tstands at")
	for _, row := range card.GetRows() {
		how := "predicted"
		if row.GetMeasured() {
			how = "measured"
		}
		fmt.Fprintf(table, "%d\t%s\t%s\t%s\t%s\n", row.GetRow(), mm(row.OffsetMm), word(row.GetVerdict().String()), how, setting(row.GetSetting().AsMap()))
	}
	return table.Flush()
}

// drawJob draws what happened and how the job stands now.
func (m *monitor) drawJob(news *rowdatumv1.WatchJobResponse) {
	job, state := news.GetJob(), news.GetJob().GetState()
	fmt.Fprintf(m.out, "\n%s: %s, revision %d, datum %s, spread %s\n", job.GetName(), word(job.GetStage().String()),
		job.GetRevision(), mm(state.DatumMm), mm(state.SpreadMm))
	last := news.GetEvents()[len(news.GetEvents())-1]
	fmt.Fprintf(m.out, "last: %s\n", what(last))
	table := tabwriter.NewWriter(m.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "row\tdepth\toff datum\tverdict\tnext\twhy")
	for _, row := range state.GetRows() {
		fmt.Fprintf(table, "%d\t%s\t%s\t%s\t%s\t%s\n", row.GetRow(), mm(row.EstimateMm), mm(row.FromDatumMm),
			word(row.GetVerdict().String()), word(row.GetNext().String()), row.GetWhy())
	}
	table.Flush() // the terminal is not told of its own faults
	for _, warning := range state.GetWarnings() {
		fmt.Fprintln(m.out, "mind:", warning)
	}
}

// what says an event in a few words.
func what(e *rowdatumv1.JobEvent) string {
	switch {
	case e.GetOpened() != nil:
		return "opened"
	case e.GetReading() != nil:
		return fmt.Sprintf("row %d read by %s", e.GetReading().GetRow(), e.GetPerson())
	case e.GetMove() != nil:
		return fmt.Sprintf("row %d moved by %s", e.GetMove().GetRow(), e.GetPerson())
	case e.GetCautionTick() != nil:
		return "a caution ticked by " + e.GetPerson()
	case e.GetPlanIssued() != nil:
		return "a plan"
	case e.GetNote() != nil:
		return "note: " + e.GetNote().GetText()
	case e.GetSignature() != nil:
		return "signed by " + e.GetSignature().GetPerson()
	case e.GetVoided() != nil:
		return "voided: " + e.GetVoided().GetReason()
	}
	return "revision " + fmt.Sprint(e.GetRevision())
}

// mm is a length, or a dash where there is none.
func mm(length *float64) string {
	if length == nil {
		return "-"
	}
	return fmt.Sprintf("%.1f mm", *length)
}

// word is a word of the contract as people read it.
func word(w string) string {
	if strings.HasSuffix(w, "_UNSPECIFIED") {
		return "-"
	}
	return strings.ToLower(strings.ReplaceAll(w, "_", " "))
}

func setting(fields map[string]any) string {
	if len(fields) == 0 {
		return "not known"
	}
	return strings.TrimSuffix(strings.TrimPrefix(fmt.Sprint(fields), "map["), "]")
}

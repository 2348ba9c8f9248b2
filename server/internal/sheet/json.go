package sheet

import (
	"bufio"
	"encoding/json"
	"io"
	"time"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// evidence is what stands before the events where a job is handed over so that others can check its seal: for people, and the hash.
type evidence struct {
	Name        string     `json:"name"` // planters/P/jobs/J: the first line that is hashed
	Planter     string     `json:"planter"`
	Owner       string     `json:"owner,omitempty"`
	WorkOrder   string     `json:"workOrder,omitempty"`
	Stage       string     `json:"stage"`
	Person      string     `json:"person,omitempty"` // who signed it
	SignTime    *time.Time `json:"signTime,omitempty"`
	Recipe      int        `json:"recipe,omitempty"`
	ContentHash string     `json:"contentHash,omitempty"`
}

// JSON writes the job's events as they are stored, one a line, behind a head for people.
func (s *Sheet) JSON(w io.Writer) error {
	planter := &s.s.Opened.Planter
	head := evidence{Name: "planters/" + s.head.Planter + "/jobs/" + s.head.Job, Planter: planter.DisplayName, Owner: planter.Owner, WorkOrder: s.head.WorkOrder,
		Stage: [...]string{job.StageOpen: "OPEN", job.StageSigned: "SIGNED", job.StageVoided: "VOIDED"}[s.s.Stage]}
	if x := s.s.Signature; x != nil {
		head.Person, head.SignTime, head.Recipe, head.ContentHash = x.Person, timeOf(x.SignTime), x.Recipe, x.ContentHash
	}
	text, err := json.Marshal(head)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	_, _ = out.Write(text[:len(text)-1]) // a writer with a buffer keeps its first error for Flush
	_, _ = out.WriteString(",\"events\":[")
	for i, event := range s.log {
		if i > 0 {
			_ = out.WriteByte(',')
		}
		_ = out.WriteByte('\n')
		_, _ = out.Write(event)
	}
	_, _ = out.WriteString("\n]}\n")
	return out.Flush()
}

func timeOf(m leveling.Micros) *time.Time {
	t := time.UnixMicro(int64(m)).UTC()
	return &t
}

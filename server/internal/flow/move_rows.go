package flow

import (
	"context"
	"fmt"
	"math"

	"rowdatum/server/leveling"
	"rowdatum/server/leveling/job"
)

// MoveAsked is a move as its writer gives it: by counts, by the setting afterwards, or both.
type MoveAsked struct {
	Row           int
	SettingBefore leveling.JSON
	SettingAfter  leveling.JSON
	Count         *float64
	AfterMove     *int
}

// AddMoves appends moves. The adjuster says what each does; a row that stands elsewhere by the time of the
// write is a Stale error.
func (f *Flow) AddMoves(ctx context.Context, who Caller, key JobKey, req Request, by Writer, asked []MoveAsked) (Appended, error) {
	moves, err := f.movesOf(ctx, key, asked)
	if err != nil {
		// A repeat of a write that was done is answered as then, though its rows stand elsewhere now.
		return f.append(ctx, who, appending{key: key, method: "AddMoves", req: req, by: by,
			build: func(Tx, *job.State, leveling.Micros) ([]job.Event, error) { return nil, err }})
	}
	return f.append(ctx, who, appending{key: key, method: "AddMoves", req: req, by: by, build: func(_ Tx, s *job.State, _ leveling.Micros) ([]job.Event, error) {
		for i := range moves {
			moves[i].Plan = planThatAsks(s, moves[i])
		}
		return events(moves, func(m job.Move) job.Event { return job.Event{Move: &m} }), s.CheckMoves(moves)
	}})
}

// planThatAsks is the revision of the plan whose move this is; 0 where no plan asks for it.
func planThatAsks(s *job.State, m job.Move) int {
	if row := s.Row(m.Row); row != nil && row.Move != nil && row.Move.Option.Count == m.Count {
		return s.PlanRevision
	}
	return 0
}

// movesOf finds the option that each move is.
func (f *Flow) movesOf(ctx context.Context, key JobKey, asked []MoveAsked) ([]job.Move, error) {
	view, err := f.Job(ctx, key)
	if err != nil {
		return nil, err
	}
	moves := make([]job.Move, len(asked))
	for i, a := range asked {
		moves[i] = job.Move{Row: a.Row, SettingBefore: a.SettingBefore, SettingAfter: a.SettingAfter, AfterMove: a.AfterMove}
	}
	if err := view.State.CheckMoves(moves); err != nil {
		return nil, err
	}
	groups, err := f.groupsOf(ctx, view.State, leveling.Voice{})
	if err != nil {
		return nil, err
	}
	options, _ := optionsOf(groups) // a row that the adjuster refuses has none
	var v leveling.Violations
	for i, a := range asked {
		path := fmt.Sprintf("moves[%d]", i)
		option, found := a.among(options[a.Row])
		switch {
		case a.Count == nil && a.SettingAfter == "":
			say(&v, path, func(p *phrases) string { return p.noCount })
		case !found:
			say(&v, path, func(p *phrases) string { return p.noSuchMove })
		case option.Leave:
			say(&v, path, func(p *phrases) string { return p.noMove })
		default:
			moves[i].Count, moves[i].EffectMm, moves[i].SettingAfter = option.Count, option.EffectMm, option.SettingAfter
		}
	}
	return moves, v.Err()
}

// among finds the option that is asked for. Counts are compared as technicians give them: quarter turns,
// not the last bit.
func (a MoveAsked) among(options []leveling.Option) (leveling.Option, bool) {
	const sameCount = 1e-6
	for _, o := range options {
		if (a.Count == nil || math.Abs(o.Count-*a.Count) <= sameCount) &&
			(a.SettingAfter == "" || o.SettingAfter == a.SettingAfter) && (a.Count != nil || a.SettingAfter != "") {
			return o, true
		}
	}
	return leveling.Option{}, false
}

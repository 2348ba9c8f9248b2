package flow

import (
	"context"
	"fmt"
	"time"
)

// answersKept is how long what a request was answered first is kept: far above the time for which a phone
// may be away with what it has not sent.
const answersKept = 90 * 24 * time.Hour

// atOnce is how many answers are forgotten in one write: others wait for it.
const atOnce = 500

// Tidy forgets what nobody can use any more: pairing codes that have ended, and first answers of long ago.
// It tells how many answers those were.
func (f *Flow) Tidy(ctx context.Context) (answers int, err error) {
	now := f.Now()
	if err := f.Store.Write(ctx, func(tx Tx) error { return tx.DropPairings(now) }); err != nil {
		return 0, fmt.Errorf("forgetting pairing codes: %w", err)
	}
	for {
		var old []RequestKey
		err := f.Store.Read(ctx, func(view View) (err error) {
			old, err = view.OldAnswers(now-micros(answersKept), atOnce)
			return err
		})
		if err == nil && len(old) > 0 {
			err = f.Store.Write(ctx, func(tx Tx) error { return dropAnswers(tx, old) })
		}
		if err != nil {
			return answers, fmt.Errorf("forgetting first answers: %w", err)
		}
		answers += len(old)
		if len(old) < atOnce {
			return answers, nil
		}
	}
}

func dropAnswers(tx Tx, old []RequestKey) error {
	for _, key := range old {
		if err := tx.DropAnswer(key); err != nil {
			return err
		}
	}
	return nil
}

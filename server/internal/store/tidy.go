package store

import (
	"rowdatum/server/internal/flow"
	"rowdatum/server/leveling"
)

// OldAnswers names requests that were first answered before a time.
func (v view) OldAnswers(before leveling.Micros, limit int) ([]flow.RequestKey, error) {
	return query(v.session, func(row func(...any) error) (key flow.RequestKey, err error) {
		err = row(&key.Shop, &key.ID)
		return key, err
	}, sqlOldAnswers, int64(before), limit)
}

// DropAnswer forgets what a request was answered first.
func (t *tx) DropAnswer(key flow.RequestKey) error {
	_, err := t.exec(sqlDropAnswer, key.Shop, key.ID)
	return err
}

// DropPairings forgets the codes that have ended.
func (t *tx) DropPairings(now leveling.Micros) error {
	_, err := t.exec(sqlDropPairings, int64(now))
	return err
}

package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"strings"
	"time"
	"unicode/utf8"

	"rowdatum/server/internal/store/engine"
	"rowdatum/server/leveling"
)

// session is one connection with the statements prepared on it. One transaction at a time runs on it.
type session struct {
	engine    engine.Engine
	pool      *sql.DB
	beginText string
	damage    *damage

	conn     *sql.Conn // nil before the first use and after a fault
	prepared map[string]*sql.Stmt

	ctx    context.Context // of the running transaction
	within bool            // a transaction is running
	faulty error           // the first error of the database in it
	wrote  bool            // a row was changed since somebody last cleared this
	point  point
}

// point is the savepoint of a write that shares a transaction. It is set before the first statement.
type point int

const (
	noPoint point = iota
	pointWanted
	pointSet
)

// undoBound is the time for ending a transaction on a connection that may be dead: a choice of ours.
const undoBound = 5 * time.Second

// begin begins a transaction, on a new connection where there is none.
func (s *session) begin(ctx context.Context) error {
	s.ctx, s.faulty, s.point = ctx, nil, noPoint
	if s.conn == nil {
		conn, err := s.pool.Conn(ctx)
		if err != nil {
			return s.judge("connecting", err)
		}
		s.conn, s.prepared = conn, map[string]*sql.Stmt{}
	}
	if err := s.control(s.beginText); err != nil {
		s.drop()
		return err
	}
	s.within = true
	return nil
}

// commit commits by the engine's text.
func (s *session) commit(text string) error {
	if err := s.control(text); err != nil {
		return err
	}
	s.within = false
	return nil
}

// control runs an engine's text, prepared if it is one statement.
func (s *session) control(text string) error {
	if !strings.Contains(text, ";") {
		_, err := s.exec(text)
		return err
	}
	if _, err := s.conn.ExecContext(s.ctx, text); err != nil {
		return s.judge(firstWords(text), err)
	}
	return nil
}

// undo ends the transaction, if one is running, so that nothing of it is kept. A connection that cannot do
// that is given up.
func (s *session) undo() {
	if !s.within {
		return
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(s.ctx), undoBound)
	defer cancel()
	if _, err := s.conn.ExecContext(ctx, "ROLLBACK"); err != nil {
		s.drop()
	}
	s.within = false
}

// drop closes the connection, and with it whatever runs on it.
func (s *session) drop() {
	if s.conn == nil {
		return
	}
	for _, stmt := range s.prepared {
		_ = stmt.Close()
	}
	// ErrBadConn makes the pool close the connection rather than hand it out again: it may be broken, or
	// within a transaction.
	_ = s.conn.Raw(func(any) error { return driver.ErrBadConn })
	_ = s.conn.Close()
	s.conn, s.prepared, s.within = nil, nil, false
}

// exec runs a statement and returns how many rows it changed.
func (s *session) exec(text string, args ...any) (int64, error) {
	stmt, err := s.prepare(text, args)
	if err != nil {
		return 0, err
	}
	result, err := stmt.ExecContext(s.ctx, args...)
	if err != nil {
		return 0, s.judge(firstWords(text), err)
	}
	n, err := result.RowsAffected()
	if err != nil {
		return 0, s.judge(firstWords(text), err)
	}
	s.wrote = s.wrote || n > 0
	return n, nil
}

// query runs a statement and returns what scan makes of its rows.
func query[T any](s *session, scan func(row func(...any) error) (T, error), text string, args ...any) ([]T, error) {
	stmt, err := s.prepare(text, args)
	if err != nil {
		return nil, err
	}
	rows, err := stmt.QueryContext(s.ctx, args...)
	if err != nil {
		return nil, s.judge(firstWords(text), err)
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		one, err := scan(rows.Scan)
		if err != nil {
			return nil, err
		}
		all = append(all, one)
	}
	if err := rows.Err(); err != nil {
		return nil, s.judge(firstWords(text), err)
	}
	return all, nil
}

// one is query for at most one row.
func one[T any](s *session, scan func(row func(...any) error) (T, error), text string, args ...any) (t T, ok bool, err error) {
	all, err := query(s, scan, text, args...)
	if err != nil || len(all) == 0 {
		return t, false, err
	}
	return all[0], true, nil
}

func (s *session) prepare(text string, args []any) (*sql.Stmt, error) {
	for _, arg := range args {
		if text, ok := arg.(string); ok && (!utf8.ValidString(text) || strings.ContainsRune(text, 0)) {
			return nil, &leveling.Error{Kind: leveling.Invalid, Reason: "INVALID_REQUEST", Message: "A text of the request holds a character that cannot be kept."}
		}
	}
	if s.faulty != nil {
		// PostgreSQL would refuse the statement; SQLite may have ended the transaction, and would keep it.
		return nil, s.faulty
	}
	if s.point == pointWanted {
		s.point = pointSet
		if _, err := s.exec("SAVEPOINT one"); err != nil {
			return nil, err
		}
	}
	if stmt := s.prepared[text]; stmt != nil {
		return stmt, nil
	}
	stmt, err := s.conn.PrepareContext(s.ctx, text)
	if err != nil {
		return nil, s.judge(firstWords(text), err)
	}
	s.prepared[text] = stmt
	return stmt, nil
}

func (s *session) judge(doing string, err error) error {
	err = judged(s.ctx, s.engine, doing, err)
	if faultOf(err) == engine.Damaged {
		s.damage.found(err)
	}
	if s.faulty == nil {
		s.faulty = err
	}
	return err
}

// firstWords names a statement in the log, without its values.
func firstWords(text string) string {
	const enough = 60
	text = strings.Join(strings.Fields(text), " ")
	return text[:min(len(text), enough)]
}

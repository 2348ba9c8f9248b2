package postgres

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"go.uber.org/zap"
)

const channel = "rowdatum"

// Choices of ours.
const (
	reread      = 30 * time.Second // words can be lost, and a dead connection be silent
	pingTimeout = 5 * time.Second
	again       = time.Second // after a connection was lost
)

// Commit has the server tell all who listen, once the transaction is committed.
func (e *Engine) Commit(words []string) string {
	var b strings.Builder
	for _, said := range words {
		b.WriteString("NOTIFY " + channel + ", '" + strings.ReplaceAll(said, "'", "''") + "'; ")
	}
	b.WriteString("COMMIT")
	return b.String()
}

// Listen hears what other processes, and this one, announce.
func (e *Engine) Listen(ctx context.Context, heard func(words string), missed func()) {
	for ctx.Err() == nil {
		err := e.listen(ctx, heard, missed)
		if ctx.Err() != nil {
			return
		}
		e.log.Warn("not listening to the database; trying again", zap.String("database", e.redacted()), zap.Error(err))
		select {
		case <-ctx.Done():
		case <-time.After(again):
		}
	}
}

// listen listens on one connection until it is lost.
func (e *Engine) listen(ctx context.Context, heard func(string), missed func()) error {
	conn, err := pgx.ConnectConfig(ctx, e.config.Copy())
	if err != nil {
		return err
	}
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), pingTimeout)
		defer cancel()
		_ = conn.Close(ctx)
	}()
	if _, err := conn.Exec(ctx, "LISTEN "+channel); err != nil {
		return err
	}
	missed()
	for next := time.Now().Add(reread); ; {
		if time.Now().After(next) {
			next = time.Now().Add(reread)
			if err := ping(ctx, conn); err != nil {
				return err
			}
			missed()
		}
		wait, cancel := context.WithDeadline(ctx, next)
		word, err := conn.WaitForNotification(wait)
		cancel()
		switch {
		case err == nil:
			heard(word.Payload)
		case ctx.Err() != nil || !errors.Is(err, context.DeadlineExceeded):
			return err
		}
	}
}

func ping(ctx context.Context, conn *pgx.Conn) error {
	ctx, cancel := context.WithTimeout(ctx, pingTimeout)
	defer cancel()
	return conn.Ping(ctx)
}

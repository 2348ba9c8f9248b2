package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"go.uber.org/zap"

	"rowdatum/server/internal/flow"
	"rowdatum/server/internal/store/engine"
	"rowdatum/server/internal/store/postgres"
	"rowdatum/server/internal/store/sqlite"
	"rowdatum/server/leveling"
)

// Store is a flow.Store. Its methods may be called from many goroutines, until Close.
type Store struct {
	engine  engine.Engine
	log     *zap.Logger
	hub     hub
	queue   chan *write
	readers chan *session // as many as may read at once; their connections are made when first used
	writer  *session      // the writing goroutine's alone

	closing context.Context
	close   context.CancelFunc
	ended   chan struct{} // closed when the writing goroutine has ended
	work    sync.WaitGroup
	grouped func(writes int) // tests hear of every group; nil otherwise
	meter   Meter
	damage  *damage
}

// Meter hears of the store's work. Its methods return at once.
type Meter interface {
	// Group hears of each transaction: how many writes shared it, how many of those failed because of the
	// disk or the database, and how long it took with its commit.
	Group(writes, failed int, took time.Duration)
}

type noMeter struct{}

func (noMeter) Group(int, int, time.Duration) {}

var _ flow.Store = (*Store)(nil)

// Open opens the store at a place, a file's path or a postgres:// URL, for a service: it brings the tables
// to this version and, with a file, owns it until Close. log may be nil.
func Open(ctx context.Context, place string, log *zap.Logger) (*Store, error) {
	return OpenMetered(ctx, place, log, noMeter{})
}

// OpenMetered is Open for a store that tells of its work.
func OpenMetered(ctx context.Context, place string, log *zap.Logger, meter Meter) (*Store, error) {
	return open(ctx, place, log, meter, sqlite.Own)
}

// OpenBeside opens the store for a short command, like adding a key or a backup, that may run while a
// service has it open.
func OpenBeside(ctx context.Context, place string, log *zap.Logger) (*Store, error) {
	return open(ctx, place, log, noMeter{}, sqlite.Beside)
}

func open(ctx context.Context, place string, log *zap.Logger, meter Meter, how sqlite.How) (*Store, error) {
	if log == nil {
		log = zap.NewNop()
	}
	e, err := openEngine(ctx, place, log, how)
	if errors.Is(err, sqlite.ErrDamaged) {
		return nil, notOpened(err)
	}
	if err != nil {
		return nil, unavailable("STORE_NOT_OPENED", "The store cannot be opened.", err)
	}
	s := start(e, log, meter)
	if how == sqlite.Own {
		s.lookOver(ctx)
	}
	return s, nil
}

func openEngine(ctx context.Context, place string, log *zap.Logger, how sqlite.How) (engine.Engine, error) {
	scheme, _, isURL := strings.Cut(place, "://")
	switch {
	case scheme == "postgres" || scheme == "postgresql":
		return postgres.Open(ctx, place, log)
	case isURL:
		return nil, fmt.Errorf("a store is a file's path or a postgres:// address, not %s://", scheme)
	case place == "":
		return nil, fmt.Errorf("no place named: a store is a file's path or a postgres:// address")
	default:
		return sqlite.Open(ctx, place, how)
	}
}

func start(e engine.Engine, log *zap.Logger, meter Meter) *Store {
	s := &Store{engine: e, log: log, meter: meter, queue: make(chan *write, groupMost), readers: make(chan *session, e.Readers()), ended: make(chan struct{})}
	s.damage = &damage{tell: s.tellDamage}
	s.writer = &session{engine: e, pool: e.Writer(), beginText: e.BeginWrite(), damage: s.damage}
	for range e.Readers() {
		s.readers <- &session{engine: e, pool: e.Reader(), beginText: e.BeginRead(), damage: s.damage}
	}
	s.closing, s.close = context.WithCancel(context.Background())
	s.work.Go(s.writing)
	s.work.Go(func() {
		e.Listen(s.closing, func(words string) { s.hub.tellWords(words) }, s.reread)
	})
	return s
}

// Close ends the store once what it has begun is committed. Writes that wait are refused.
func (s *Store) Close() error {
	s.close()
	s.work.Wait()
	for range cap(s.readers) {
		(<-s.readers).drop()
	}
	s.writer.drop()
	return s.engine.Close()
}

// Read runs do on one state of the store.
func (s *Store) Read(ctx context.Context, do func(flow.View) error) error {
	var reader *session
	select {
	case reader = <-s.readers:
	case <-ctx.Done():
		return gaveUp(ctx)
	case <-s.closing.Done():
		return closed()
	}
	defer func() { s.readers <- reader }()
	if err := reader.begin(ctx); err != nil {
		// The connection may have died while nobody used it.
		if err := reader.begin(ctx); err != nil {
			return err
		}
	}
	defer reader.undo()
	return do(view{reader})
}

// Probe returns nil if the store can be written right now.
func (s *Store) Probe(ctx context.Context) error {
	return s.Write(ctx, func(t flow.Tx) error {
		_, err := t.(*tx).exec(sqlProbe)
		return err
	})
}

// Backup writes a copy of the store to a file, while the store is in use. A file that is there is replaced
// once the copy is whole.
func (s *Store) Backup(ctx context.Context, file string) error {
	if err := s.engine.Backup(ctx, file); err != nil {
		return unavailable("BACKUP_FAILED", "The backup was not made.", err)
	}
	return nil
}

// Look opens the store at a place for looking at it: nothing of it is changed, whichever version wrote it.
func Look(ctx context.Context, place string) (*Store, error) {
	return open(ctx, place, nil, noMeter{}, sqlite.Look)
}

// Subscribe tells of a job's new revisions.
func (s *Store) Subscribe(key flow.JobKey) (<-chan int, func()) { return s.hub.subscribe(key) }

// reread asks for the revision of every watched job: words of other processes can be lost.
func (s *Store) reread() {
	keys := s.hub.watched()
	if len(keys) == 0 {
		return
	}
	err := s.Read(s.closing, func(v flow.View) error {
		for _, key := range keys {
			head, err := v.Job(key)
			if leveling.AsError(err).Kind == leveling.NotFound && err != nil {
				continue
			} else if err != nil {
				return err
			}
			s.hub.tell(key, head.Revision)
		}
		return nil
	})
	if err != nil && s.closing.Err() == nil {
		s.log.Warn("watched jobs were not read again", zap.Error(err))
	}
}

package store

import (
	"context"
	"database/sql"
	"encoding/base64"
	"errors"
	"time"

	"github.com/alexedwards/scs/v2"

	"platebook/desk"
)

// sessions keeps log-in sessions by the hash of their token: whoever reads the
// rows cannot take a session over.
type sessions struct{ s *Store }

var _ scs.CtxStore = sessions{}

// Sessions keep log-ins in the same database.
func (s *Store) Sessions() scs.CtxStore { return sessions{s} }

// sweepSessions is how often those that ran out are thrown away.
const sweepSessions = int64(time.Hour / time.Microsecond)

func (v sessions) CommitCtx(ctx context.Context, token string, b []byte, expiry time.Time) error {
	now := micros(v.s.opts.Now())
	if last := v.s.swept.Load(); now-last > sweepSessions && v.s.swept.CompareAndSwap(last, now) {
		if _, err := v.s.write.ExecContext(ctx, `DELETE FROM sessions WHERE expires < $1`, now); err != nil {
			return fault(err)
		}
	}
	_, err := v.s.write.ExecContext(ctx, `INSERT INTO sessions (token, data, expires) VALUES ($1, $2, $3)
		ON CONFLICT (token) DO UPDATE SET data = excluded.data, expires = excluded.expires`,
		string(desk.HashOf([]byte(token))), base64.StdEncoding.EncodeToString(b), micros(expiry))
	return fault(err)
}

func (v sessions) FindCtx(ctx context.Context, token string) (b []byte, found bool, err error) {
	var data string
	err = v.s.read.QueryRowContext(ctx, `SELECT data FROM sessions WHERE token = $1 AND expires > $2`,
		string(desk.HashOf([]byte(token))), micros(v.s.opts.Now())).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fault(err)
	}
	b, err = base64.StdEncoding.DecodeString(data)
	return b, err == nil, err
}

func (v sessions) DeleteCtx(ctx context.Context, token string) error {
	_, err := v.s.write.ExecContext(ctx, `DELETE FROM sessions WHERE token = $1`, string(desk.HashOf([]byte(token))))
	return fault(err)
}

func (v sessions) Delete(token string) error { return v.DeleteCtx(context.Background(), token) }

func (v sessions) Find(token string) ([]byte, bool, error) {
	return v.FindCtx(context.Background(), token)
}

func (v sessions) Commit(token string, b []byte, expiry time.Time) error {
	return v.CommitCtx(context.Background(), token, b, expiry)
}

package web

import (
	"net/http"
	"time"

	"platebook/desk"
)

// actor is who is logged in, as the desk knows them now: an account closed or
// given a new password since is nobody. Nobody is the zero Actor.
func (s *Site) actor(r *http.Request) (desk.Actor, error) {
	ctx := r.Context()
	id := s.sessions.GetString(ctx, sessionStaff)
	if id == "" || !s.awake(r) {
		return desk.Actor{}, nil
	}
	return s.desk.Standing(ctx, desk.ID(id), time.UnixMicro(s.sessions.GetInt64(ctx, sessionSince)), visitOf(ctx).from)
}

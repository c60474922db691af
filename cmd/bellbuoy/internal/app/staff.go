package app

import (
	"context"
	"time"

	"bellbuoy/store"
)

// Who may sign in, and who is. Nothing follows on these but what the store says
// of each.

// SaveStaff lets somebody sign in, or gives them a new role and password.
func (h *App) SaveStaff(ctx context.Context, now time.Time, actor string, s store.Staff) error {
	return h.db.SaveStaff(ctx, now, actor, s)
}

// SaveAccount is SaveStaff by a form; see [store.DB.SaveAccount].
func (h *App) SaveAccount(ctx context.Context, now time.Time, actor, form string, s store.Staff) error {
	return h.db.SaveAccount(ctx, now, actor, form, s)
}

// RemoveAccount is RemoveStaff where somebody must stay owner.
func (h *App) RemoveAccount(ctx context.Context, now time.Time, actor, name string) error {
	return h.db.RemoveAccount(ctx, now, actor, name)
}

// RemoveStaff takes somebody off the list and signs them out.
func (h *App) RemoveStaff(ctx context.Context, now time.Time, actor, name string) error {
	return h.db.RemoveStaff(ctx, now, actor, name)
}

// UnlockStaff forgets the wrong passwords under a name.
func (h *App) UnlockStaff(ctx context.Context, now time.Time, actor, name string) error {
	return h.db.Unlock(ctx, now, actor, name)
}

// EndSessions signs somebody out everywhere and counts the sessions ended.
func (h *App) EndSessions(ctx context.Context, now time.Time, actor, name string) (int, error) {
	return h.db.EndSessions(ctx, now, actor, name)
}

// BeginSession signs somebody in until a moment.
func (h *App) BeginSession(ctx context.Context, now time.Time, token, name string, until time.Time) error {
	return h.db.BeginSession(ctx, now, token, name, until)
}

// ExtendSession lets a session last until a later moment.
func (h *App) ExtendSession(ctx context.Context, token string, until time.Time) error {
	return h.db.ExtendSession(ctx, token, until)
}

// EndSession signs out.
func (h *App) EndSession(ctx context.Context, token string) error {
	return h.db.EndSession(ctx, token)
}

package app

import (
	"context"
	"time"

	"bellbuoy/store"
)

// Who may sign in, and who is. Nothing follows on these but what the store says
// of each.

// SaveStaff lets somebody sign in, or gives them a new role and password.
func (a *App) SaveStaff(ctx context.Context, now time.Time, actor string, s store.Staff) error {
	return a.db.SaveStaff(ctx, now, actor, s)
}

// SaveAccount is SaveStaff by a form; see [store.DB.SaveAccount].
func (a *App) SaveAccount(ctx context.Context, now time.Time, actor, form string, s store.Staff) error {
	return a.db.SaveAccount(ctx, now, actor, form, s)
}

// RemoveAccount is RemoveStaff where somebody must stay owner.
func (a *App) RemoveAccount(ctx context.Context, now time.Time, actor, name string) error {
	return a.db.RemoveAccount(ctx, now, actor, name)
}

// RemoveStaff takes somebody off the list and signs them out.
func (a *App) RemoveStaff(ctx context.Context, now time.Time, actor, name string) error {
	return a.db.RemoveStaff(ctx, now, actor, name)
}

// UnlockStaff forgets the wrong passwords under a name.
func (a *App) UnlockStaff(ctx context.Context, now time.Time, actor, name string) error {
	return a.db.Unlock(ctx, now, actor, name)
}

// EndSessions signs somebody out everywhere and counts the sessions ended.
func (a *App) EndSessions(ctx context.Context, now time.Time, actor, name string) (int, error) {
	return a.db.EndSessions(ctx, now, actor, name)
}

// BeginSession signs somebody in until a moment.
func (a *App) BeginSession(ctx context.Context, now time.Time, token, name string, until time.Time) error {
	return a.db.BeginSession(ctx, now, token, name, until)
}

// ExtendSession lets a session last until a later moment.
func (a *App) ExtendSession(ctx context.Context, token string, until time.Time) error {
	return a.db.ExtendSession(ctx, token, until)
}

// EndSession signs out.
func (a *App) EndSession(ctx context.Context, token string) error {
	return a.db.EndSession(ctx, token)
}

package app

import (
	"context"
	"time"

	"bellbuoy/store/accounts"
)

// Who may sign in, and who is. Nothing follows on these but what the store says
// of each.

// SaveStaff lets somebody sign in, or gives them a new role and password.
func (a *App) SaveStaff(ctx context.Context, now time.Time, actor string, s accounts.Staff) error {
	return accounts.SaveStaff(ctx, a.db, now, actor, s)
}

// SaveAccount is SaveStaff by a form; see [store.DB.SaveAccount].
func (a *App) SaveAccount(ctx context.Context, now time.Time, actor, form string, s accounts.Staff) error {
	return accounts.SaveAccount(ctx, a.db, now, actor, form, s)
}

// RemoveAccount is RemoveStaff where somebody must stay owner.
func (a *App) RemoveAccount(ctx context.Context, now time.Time, actor, name string) error {
	return accounts.RemoveAccount(ctx, a.db, now, actor, name)
}

// RemoveStaff takes somebody off the list and signs them out.
func (a *App) RemoveStaff(ctx context.Context, now time.Time, actor, name string) error {
	return accounts.RemoveStaff(ctx, a.db, now, actor, name)
}

// UnlockStaff forgets the wrong passwords under a name.
func (a *App) UnlockStaff(ctx context.Context, now time.Time, actor, name string) error {
	return accounts.Unlock(ctx, a.db, now, actor, name)
}

// EndSessions signs somebody out everywhere and counts the sessions ended.
func (a *App) EndSessions(ctx context.Context, now time.Time, actor, name string) (int, error) {
	return accounts.EndSessions(ctx, a.db, now, actor, name)
}

// BeginSession signs somebody in until a moment.
func (a *App) BeginSession(ctx context.Context, now time.Time, token, name string, until time.Time) error {
	return accounts.BeginSession(ctx, a.db, now, token, name, until)
}

// ExtendSession lets a session last until a later moment.
func (a *App) ExtendSession(ctx context.Context, token string, until time.Time) error {
	return accounts.ExtendSession(ctx, a.db, token, until)
}

// EndSession signs out.
func (a *App) EndSession(ctx context.Context, token string) error {
	return accounts.EndSession(ctx, a.db, token)
}

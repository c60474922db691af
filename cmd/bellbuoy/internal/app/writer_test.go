package app

import "bellbuoy/store"

// Writer is what writes the shop's file, for tests of this package.
func (h *App) Writer() *store.DB { return h.db }

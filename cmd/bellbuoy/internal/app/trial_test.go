package app_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/storetest"
	"database/sql"
)

// TestLookingAtFilesKeepsNobodyWaiting: while somebody writes, files are looked at,
// and so the other way about.
func TestLookingAtFilesKeepsNobodyWaiting(t *testing.T) {
	p := newPost(t, "")
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
	defer cancel()
	err := p.Writer().Tx(t.Context(), func(*sql.Tx) error {
		files := storetest.Files(map[string]string{"customers.csv": "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nNEW,Ada Fenn,,,,,,,\n"})
		r, _, err := p.Intake(ctx, p.now, files, imports.IntakeOptions{Actor: "test", DryRun: true})
		if r.Refused() {
			t.Errorf("refused: %+v", r)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.DB.Customer(t.Context(), "NEW"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a trial changed the shop: %v", err)
	}
}

package testkit

import (
	"os"
	"testing"
)

// Everything reports whether this run must skip nothing: BELLBUOY_CI=1.
func Everything() bool { return os.Getenv("BELLBUOY_CI") == "1" }

// Needs lets a test go on if what it needs is there. It skips the test where it
// is not, fails it where everything must be there, and with -short skips it in
// any case.
func Needs(t testing.TB, there bool, what string) {
	t.Helper()
	switch {
	case testing.Short():
		t.Skipf("needs %s, which a short run leaves out", what)
	case there:
	case Everything():
		t.Fatalf("%s is missing, and this run must skip nothing", what)
	default:
		t.Skipf("%s is missing", what)
	}
}

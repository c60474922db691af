package app

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
)

// TestAnEmailThatBreaksTheReaderIsLeft: the daemon goes on, the email stays in the
// mailbox for a person, and the log says where it broke.
func TestAnEmailThatBreaksTheReaderIsLeft(t *testing.T) {
	var said bytes.Buffer
	in, err := survived(slog.New(slog.NewTextHandler(&said, nil)), func() (Incoming, error) {
		var none []int
		return Incoming{OutboxID: int64(none[3])}, nil
	})
	if err != nil || in.Handled() || in.Kind != IncomingPerson {
		t.Errorf("%+v, %v", in, err)
	}
	if !strings.Contains(said.String(), "index out of range") || !strings.Contains(said.String(), "mailbox_inside_test.go") {
		t.Errorf("the log says %s", said.String())
	}
}

package store_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/archive"
	"bellbuoy/store/imports"
)

// childVar asks the test binary to be the child that is killed, or that runs as
// somebody else: its value is what to do, its arguments are the files.
const childVar = "BELLBUOY_STORE_CHILD"

func TestMain(m *testing.M) {
	if what := os.Getenv(childVar); what != "" {
		os.Exit(child(what, os.Args[1:]))
	}
	os.Exit(m.Run())
}

// child does one thing to a shop and says what came of it. It prints a line just
// before it begins.
func child(what string, args []string) int {
	do, ok := map[string]func(ctx context.Context, args []string) error{
		"open":    childOpen,
		"intake":  childIntake,
		"backup":  childBackup,
		"restore": childRestore,
		"import":  childImport,
		"post":    childPost,
	}[what]
	if !ok {
		fmt.Fprintf(os.Stderr, "no such child: %s\n", what)
		return 2
	}
	fmt.Println("begin")
	if err := do(context.Background(), args); err != nil {
		fmt.Fprintf(os.Stderr, "%v\nadvice: %s\n", err, store.Advice(err))
		return 1
	}
	return 0
}

func childOpen(ctx context.Context, args []string) error {
	db, err := store.Open(ctx, args[0])
	if err != nil {
		return err
	}
	return db.Close()
}

func childIntake(ctx context.Context, args []string) error {
	db, err := store.Open(ctx, args[0])
	if err != nil {
		return err
	}
	defer db.Close()
	boats, err := strconv.Atoi(args[1])
	if err != nil {
		return err
	}
	_, err = imports.Intake(ctx, db, noon, fleet(boats), known(), imports.IntakeOptions{Actor: "test"})
	return err
}

func childBackup(ctx context.Context, args []string) error {
	db, err := store.Open(ctx, args[0])
	if err != nil {
		return err
	}
	defer db.Close()
	return archive.Backup(ctx, db.Reader, args[1])
}

func childRestore(ctx context.Context, args []string) error {
	_, err := archive.Restore(ctx, noon, "test", args[1], args[0])
	return err
}

func childImport(ctx context.Context, args []string) error {
	_, err := archive.Import(ctx, noon, args[1], args[0])
	return err
}

// started is a child at work.
type started struct {
	cmd    *exec.Cmd
	begun  time.Time
	stderr strings.Builder
}

// startChild starts a child and waits until it begins. Given a user, it runs as
// that one.
func startChild(t testing.TB, as *syscall.Credential, what string, args ...string) *started {
	t.Helper()
	binary, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if as != nil {
		binary = copyFor(t, binary)
	}
	c := &started{cmd: exec.Command(binary, args...)}
	c.cmd.Env = append(os.Environ(), childVar+"="+what)
	c.cmd.SysProcAttr = &syscall.SysProcAttr{Credential: as}
	c.cmd.Stderr = &c.stderr
	out, err := c.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.cmd.Process.Kill() })
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "begin\n" {
		t.Fatalf("the child said %q, %v\n%s", line, err, c.stderr.String())
	}
	c.begun = time.Now()
	go func() { _, _ = io.Copy(io.Discard, out) }()
	return c
}

// copyFor copies the test binary to where another user may run it.
func copyFor(t testing.TB, binary string) string {
	t.Helper()
	b, err := os.ReadFile(binary)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(openFolder(t), "child")
	if err := os.WriteFile(path, b, 0o755); err != nil {
		t.Fatal(err)
	}
	return path
}

// openFolder is a temporary folder that every user may look into, which
// t.TempDir is not.
func openFolder(t testing.TB) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "bellbuoy-test-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// wait lets a child end, and returns its exit code, -1 if it was killed.
func (c *started) wait() (code int, took time.Duration) {
	_ = c.cmd.Wait()
	return c.cmd.ProcessState.ExitCode(), time.Since(c.begun)
}

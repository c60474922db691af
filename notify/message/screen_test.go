package message_test

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule/testkit"
)

// A phone's screen, and how much of it a mail program takes for itself: its bars,
// the subject and the sender (measured by eye on two programs).
const (
	phoneWidth, phoneHeight = 390, 844
	mailProgram             = 200
)

// TestTheButtonIsOnTheFirstScreen opens every kind of email in a real browser as
// wide as a phone and asks where its button ends, and that nothing
// runs over the edge, there and at 800 pixels.
func TestTheButtonIsOnTheFirstScreen(t *testing.T) {
	path, err := exec.LookPath("chromium")
	testkit.Needs(t, err == nil, "chromium")
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	ctx, cancel = context.WithTimeout(ctx, 5*time.Minute)
	defer cancel()
	r, dir := fixture.Renderer(t, nil), t.TempDir()
	for name, n := range fixture.Cases(t) {
		if name == "new-address-old" { // it has none: who reads it is not known
			continue
		}
		_, page, err := r.Bodies(&n, fixture.Links)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, name+".html")
		if err := os.WriteFile(file, []byte(page), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, width := range []int64{phoneWidth, 800} {
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, phoneHeight), chromedp.Navigate("file://"+file)); err != nil {
				t.Fatal(err)
			}
			at, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](`[document.querySelector("a.button").getBoundingClientRect().bottom,
				document.documentElement.scrollWidth - window.innerWidth]`))
			if err != nil {
				t.Fatal(err)
			}
			bottom, over := at[0], at[1]
			if bottom > phoneHeight-mailProgram {
				t.Errorf("%s at %d: the button ends %.0f pixels down, want at most %d", name, width, bottom, phoneHeight-mailProgram)
			}
			if over > 0 {
				t.Errorf("%s at %d: runs over the edge by %.0f pixels", name, width, over)
			}
			if width == phoneWidth {
				t.Logf("%-20s the button ends %.2f screens down", name, bottom/phoneHeight)
			}
		}
	}
}

package web_test

import (
	"context"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// outside skips a test that needs an outside program, with the reason; where
// everything must be there it fails instead.
func outside(t *testing.T, why string) {
	t.Helper()
	if os.Getenv("BELLBUOY_CI") == "1" {
		t.Fatal(why)
	}
	t.Skip(why)
}

// npm is the folder of an npm package that the checks use.
func npm(t *testing.T, pkg string) string {
	t.Helper()
	root := os.Getenv("BELLBUOY_NPM")
	if root == "" {
		root = filepath.Join("..", "..", "..", "..", ".ci", "npm")
	}
	dir, err := filepath.Abs(filepath.Join(root, "node_modules", pkg))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dir); err != nil {
		outside(t, "npm package "+pkg+" is not installed")
	}
	return dir
}

// openBrowser starts Chromium, which ends with the test.
func openBrowser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		outside(t, "chromium is not installed")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-background-networking", true),
		chromedp.UserDataDir(t.TempDir()))
	ctx, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	if err := chromedp.Do(ctx, chromedp.Navigate("about:blank")); err != nil {
		t.Fatalf("start chromium: %v", err)
	}
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// serve answers on loopback until the test ends. The shop must have been told
// this address in its settings, or its cookies would be for https only.
func (s *testShop) serve() string {
	srv := httptest.NewServer(s.site)
	s.t.Cleanup(srv.Close)
	return srv.URL
}

// width sets the width of the browser's window in CSS pixels.
func width(px int) chromedp.Action[chromedp.Void] { return chromedp.EmulateViewport(int64(px), 900) }

// scheme sets light or dark.
func scheme(name string) chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}},
		})
		return err
	})
}

// scriptsOff forbids the pages to run any script.
func scriptsOff() chromedp.Action[chromedp.Void] {
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	})
}

// mustDo does actions and names what was being done if one fails.
func mustDo(ctx context.Context, t *testing.T, doing string, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatalf("%s: %v", doing, err)
	}
}

// evaluate runs a script in the page and returns what it gives.
func evaluate[T any](ctx context.Context, t *testing.T, script string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("script %.60q: %v", script, err)
	}
	return v
}

// signIn signs in through the form.
func signIn(ctx context.Context, t *testing.T, base, name string) {
	t.Helper()
	mustDo(ctx, t, "sign in as "+name,
		chromedp.Navigate(base+"/sign-in"),
		chromedp.SendKeys(chromedp.CSS("#name"), name), chromedp.SendKeys(chromedp.CSS("#password"), password),
		chromedp.Click(chromedp.CSS("main button")), chromedp.WaitVisible(chromedp.CSS(".tally")))
}

// axe runs axe-core, which the page must hold, and returns its findings.
func axe(ctx context.Context, t *testing.T) []string {
	t.Helper()
	return evaluate[[]string](ctx, t,
		`axe.run(document, {resultTypes: ["violations"]}).then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.target + ": " + n.failureSummary)))`)
}

// sideways is by how many pixels the page is wider than the window.
func sideways(ctx context.Context, t *testing.T) int {
	t.Helper()
	return evaluate[int](ctx, t, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
}

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

	"bellbuoy/schedule/testkit"
)

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
	_, err = os.Stat(dir)
	testkit.Needs(t, err == nil, "npm package "+pkg)
	return dir
}

// validHTML asks html-validate about every page in a folder, by rules like
// [htmlConfig].
func validHTML(t *testing.T, dir, rules string) {
	t.Helper()
	node, err := exec.LookPath("node")
	testkit.Needs(t, err == nil, "node")
	config := filepath.Join(dir, ".htmlvalidate.json")
	if err := os.WriteFile(config, []byte(rules), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), node, filepath.Join(npm(t, "html-validate"), "bin", "html-validate.mjs"), "--config", config, dir).CombinedOutput()
	if err != nil {
		t.Errorf("html-validate: %v\n%s", err, out)
	}
}

// patience bounds every wait for the browser.
const patience = 30 * time.Second

// openBrowser starts Chromium, which ends with the test.
func openBrowser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	testkit.Needs(t, err == nil, "chromium")
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

// printed shows the pages as they print, or as they are on a screen again.
func printed(yes bool) chromedp.Action[chromedp.Void] {
	media := map[bool]string{true: "print", false: ""}[yes]
	return chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: media})
		return err
	})
}

// paper is the width of Letter between its margins, in CSS pixels.
const paper = 725

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
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatalf("%s: %v", doing, err)
	}
}

// evaluate runs a script in the page and returns what it gives.
func evaluate[T any](ctx context.Context, t *testing.T, script string) T {
	t.Helper()
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
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

// looksRight opens pages: axe-core finds nothing, light or dark, no page scrolls
// sideways on a phone, a tablet or a screen, and no picture is broken.
func looksRight(ctx context.Context, t *testing.T, base string, pages []string) {
	t.Helper()
	source, err := os.ReadFile(filepath.Join(npm(t, "axe-core"), "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range pages {
		mustDo(ctx, t, "open "+path, width(1440), chromedp.Navigate(base+path), chromedp.WaitReady(chromedp.CSS("main")))
		evaluate[chromedp.Void](ctx, t, `document.querySelectorAll("details").forEach(d => d.open = true)`)
		if broken := evaluate[int](ctx, t, `[...document.images].filter(i => i.complete && i.naturalWidth === 0).length`); broken > 0 {
			t.Errorf("%s: %d pictures are broken", path, broken)
		}
		evaluate[chromedp.Void](ctx, t, string(source))
		if bold := evaluate[int](ctx, t, `[...document.querySelectorAll("input,select,textarea")].filter(e => +getComputedStyle(e).fontWeight > 400).length`); bold > 0 {
			t.Errorf("%s: what is typed into %d fields is bold", path, bold)
		}
		// Only colors differ in the dark.
		for how, only := range map[string]string{"light": "", "dark": `, runOnly: ["color-contrast"]`} {
			mustDo(ctx, t, how, scheme(how))
			for _, f := range axe(ctx, t, only) {
				t.Errorf("%s, %s: %s", path, how, f)
			}
		}
		for _, px := range []int{320, 768, 1440} {
			mustDo(ctx, t, "resize", width(px))
			if over := sideways(ctx, t); over > 0 {
				t.Errorf("%s: %d px too wide for %d", path, over, px)
			}
			if over := evaluate[[]string](ctx, t, overTheRule); len(over) > 0 {
				t.Errorf("%s: runs over its gutter, %d px wide: %q", path, px, over)
			}
		}
		mustDo(ctx, t, "print", width(paper), printed(true))
		if over := evaluate[[]string](ctx, t, overTheRule); len(over) > 0 || sideways(ctx, t) > 0 {
			t.Errorf("%s: printed it is %d px too wide, and runs over its gutter: %q", path, sideways(ctx, t), over)
		}
		mustDo(ctx, t, "no longer print", printed(false))
	}
}

// overTheRule names the days and states that are wider than the gutter that they
// stand in.
const overTheRule = `[...document.querySelectorAll(".gutter")].filter(g => [...g.childNodes].some(n => {
	if (!n.textContent.trim() || n.classList && n.classList.contains("unseen")) return false;
	const range = document.createRange();
	range.selectNodeContents(n);
	const text = range.getBoundingClientRect(), box = g.getBoundingClientRect();
	return text.left < box.left - 1 || text.right > box.right;
})).map(g => g.textContent)`

// axe runs axe-core, which the page must hold, and returns its findings.
func axe(ctx context.Context, t *testing.T, more string) []string {
	t.Helper()
	return evaluate[[]string](ctx, t,
		`axe.run(document, {resultTypes: ["violations"]`+more+`}).then(r => r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + n.target + ": " + n.failureSummary)))`)
}

// sideways is by how many pixels the page is wider than the window.
func sideways(ctx context.Context, t *testing.T) int {
	t.Helper()
	return evaluate[int](ctx, t, `document.documentElement.scrollWidth - document.documentElement.clientWidth`)
}

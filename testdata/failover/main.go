// The failover drill: two machines, which are two addresses of loopback with a folder
// and processes each, the shops of one replicated to an S3-compatible server, and the
// other taking over when the first is killed or cut off. It measures how long pages are
// away, what was answered as saved and is lost, and which letters go out twice.
//
//	cd testdata/failover && go run . -rounds 10
//
// Everything is on loopback. It needs nginx.
package main

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"
)

// shops are the folders of a machine and the first part of their host names.
var shops = []string{"north", "south", "east"}

// files is the folder that they are filled from.
var files string

func main() {
	rounds := flag.Int("rounds", 10, "of each kind")
	atOnce := flag.Int("parallel", 2, "rounds at a time; most of each is waiting")
	kinds := flag.String("kinds", "crash,split", "crash: kill -9 and no disk; split: SIGSTOP, no storage, SIGCONT")
	idle := flag.Int("idle", 0, "instead, measure what so many shops cost that nobody uses")
	minutes := flag.Duration("for", 10*time.Minute, "for how long, with -idle")
	flag.StringVar(&files, "files", "../shop", "folder with the five files of the shop that each one is")
	keep := flag.String("keep", "", "folder to leave everything in")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := drill(ctx, *rounds, *atOnce, strings.Split(*kinds, ","), *keep, *idle, *minutes); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func drill(ctx context.Context, rounds, atOnce int, kinds []string, keep string, idle int, idleFor time.Duration) error {
	dir := keep
	if dir == "" {
		d, err := os.MkdirTemp("", "failover")
		if err != nil {
			return err
		}
		defer os.RemoveAll(d)
		dir = d
	}
	root, err := filepath.Abs("../..")
	if err != nil {
		return err
	}
	if files, err = filepath.Abs(files); err != nil {
		return err
	}
	t := tools{filepath.Join(dir, "bellbuoy"), filepath.Join(dir, "litestream")}
	for _, b := range [][]string{{"build", "-C", root, "-o", t.bellbuoy, "./cmd/bellbuoy"}, {"build", "-o", t.litestream, "github.com/benbjohnson/litestream/cmd/litestream"}} {
		if out, err := exec.CommandContext(ctx, "go", b...).CombinedOutput(); err != nil {
			return fmt.Errorf("go %v: %w\n%s", b, err, out)
		}
	}
	if idle > 0 {
		return cost(ctx, &round{dir: filepath.Join(dir, "idle"), tools: t}, idle, idleFor)
	}
	var all []*round
	for _, k := range kinds {
		for i := range rounds {
			all = append(all, &round{kind: k, n: i + 1, dir: filepath.Join(dir, fmt.Sprint(k, i+1)), tools: t})
		}
	}
	fmt.Println(head)
	var mu sync.Mutex
	var wait sync.WaitGroup
	places := make(chan struct{}, atOnce)
	bad := 0
	for _, r := range all {
		places <- struct{}{}
		wait.Go(func() {
			defer func() { <-places }()
			err := r.run(ctx)
			mu.Lock()
			defer mu.Unlock()
			fmt.Println(r)
			if err == nil {
				err = r.verdict()
			}
			if err != nil {
				bad++
				fmt.Printf("%s %d: %v\n", r.kind, r.n, err)
			}
		})
	}
	wait.Wait()
	summary(all)
	if bad > 0 {
		return fmt.Errorf("%d of %d rounds failed", bad, len(all))
	}
	return nil
}

// round is one failure and what it cost.
type round struct {
	kind  string
	n     int
	dir   string
	tools tools

	storage *storage
	post    *post
	proxy   *proxy
	a, b    *machine
	clients *clients

	failed            time.Time
	noticed, back     time.Duration // after the failure: by the watch; pages of all shops
	firstLetter       time.Duration // of the heir
	saved, lost       int
	oldestLost        time.Duration // how long before the failure it was answered
	byA, byB, late    int           // letters; late: by A once B had the shops
	remindersTwice    []string
	confirmationTwice int // with the same Message-ID
	unknown           int // sent by A and not in B's books
}

const head = "kind   round  noticed  pages back  first letter  saved  lost  oldest lost  letters A  B  late  reminders twice  confirmations repeated"

func (r *round) String() string {
	s := func(d time.Duration) string { return fmt.Sprintf("%.1f s", d.Seconds()) }
	return fmt.Sprintf("%-6s %5d  %7s  %10s  %12s  %5d  %4d  %11s  %9d  %d  %4d  %15d  %22d", r.kind, r.n, s(r.noticed), s(r.back), s(r.firstLetter),
		r.saved, r.lost, s(r.oldestLost), r.byA, r.byB, r.late, len(r.remindersTwice), r.confirmationTwice)
}

// verdict says what must not have happened.
func (r *round) verdict() error {
	switch {
	case r.back > time.Minute:
		return fmt.Errorf("pages were away for %v", r.back)
	case len(r.remindersTwice) > 0:
		return fmt.Errorf("reminders went out twice: %q", r.remindersTwice)
	case r.late > 0:
		return fmt.Errorf("the machine that was replaced sent %d letters", r.late)
	case r.unknown > 0:
		return fmt.Errorf("%d letters went out that the heir knows nothing of", r.unknown)
	}
	return nil
}

func (r *round) run(ctx context.Context) (err error) {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Minute)
	defer cancel()
	defer r.end(&err)
	if err := r.begin(ctx); err != nil {
		return err
	}
	clientsCtx, stopClients := context.WithCancel(ctx)
	defer stopClients()
	r.clients.start(clientsCtx)
	if err := r.fail(ctx); err != nil {
		return err
	}
	if err := r.takeOver(ctx); err != nil {
		return err
	}
	if err := until(ctx, 3*time.Minute, "the heir's first letter", func() bool { return r.post.sentBy("b.example") > 0 }); err != nil {
		return err
	}
	r.firstLetter = time.Since(r.failed)
	if r.kind == "split" { // it wakes up, and some time later the storage is there again
		if err := r.a.daemon.Process.Signal(syscall.SIGCONT); err != nil {
			return err
		}
		time.Sleep(40 * time.Second) // a turn of the daemon
		r.a.wire.cut.Store(false)
	}
	time.Sleep(40 * time.Second)
	stopClients()
	r.clients.ended.Wait()
	return r.count()
}

// begin sets everything up, with the first machine at work.
func (r *round) begin(ctx context.Context) (err error) {
	if r.storage, err = serveStorage(); err != nil {
		return err
	}
	if r.post, err = servePost(); err != nil {
		return err
	}
	port := freePort()
	for i, m := range []**machine{&r.a, &r.b} {
		ip := fmt.Sprint("127.0.0.", 2+i)
		name := string(rune('a' + i))
		w, err := layWire(ip, r.storage.addr)
		if err != nil {
			return err
		}
		*m = &machine{name: name + ".example", dir: filepath.Join(r.dir, name), listen: fmt.Sprint(ip, ":", port), wire: w, path: "/" + name, tools: r.tools}
		if err := (*m).settle(r.post.addr); err != nil {
			return err
		}
		if (*m).log, err = os.Create(filepath.Join(r.dir, name+".log")); err != nil {
			return err
		}
	}
	if err := r.a.fill(ctx); err != nil {
		return err
	}
	if err := r.a.copyOn(); err != nil {
		return err
	}
	if err := until(ctx, time.Minute, "the first copies", func() bool {
		n := r.storage.counts()
		return !slices.ContainsFunc(shops, func(s string) bool { return n["PUT "+s] == 0 })
	}); err != nil {
		return err
	}
	if err := r.a.serve(); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(r.dir, "nginx"), 0o700); err != nil {
		return err
	}
	if r.proxy, err = startProxy(context.Background(), filepath.Join(r.dir, "nginx"), r.a.listen); err != nil {
		return err
	}
	r.clients = &clients{proxy: r.proxy.addr, file: func(s string) string { return r.a.shop(s, "bellbuoy.db") }}
	return until(ctx, time.Minute, "the first page", r.answers)
}

// answers reports whether a page of every shop is there.
func (r *round) answers() bool {
	client := via(r.proxy.addr, 3*time.Second)
	for _, s := range shops {
		resp, err := client.Get("http://" + s + ".example/sign-in")
		if err != nil {
			return false
		}
		resp.Body.Close()
		if resp.StatusCode != http.StatusOK {
			return false
		}
	}
	return true
}

// fail waits until some letters have gone out and then, at a moment that depends on
// nothing, has the first machine fail.
func (r *round) fail(ctx context.Context) error {
	some := 1 + rand.IntN(15)
	if err := until(ctx, 4*time.Minute, "the first machine's letters", func() bool { return r.post.sentBy("a.example") >= some }); err != nil {
		return err
	}
	time.Sleep(time.Duration(rand.IntN(1500)) * time.Millisecond)
	r.failed = time.Now()
	if r.kind == "crash" {
		return r.a.die()
	}
	r.a.wire.cut.Store(true)
	return r.a.daemon.Process.Signal(syscall.SIGSTOP)
}

// takeOver is what a watch and whoever is on call do: three questions in three seconds
// without an answer, and the other machine takes the shops over.
func (r *round) takeOver(ctx context.Context) error {
	watch := http.Client{Timeout: time.Second}
	for missed := 0; missed < 3; time.Sleep(time.Second) {
		resp, err := watch.Get("http://" + r.a.listen + "/healthz")
		if err != nil {
			missed++
			continue
		}
		resp.Body.Close()
		missed = 0
	}
	r.noticed = time.Since(r.failed)
	if err := r.b.takeOver(ctx, r.a); err != nil {
		return err
	}
	if err := r.b.serve(); err != nil {
		return err
	}
	if err := until(ctx, time.Minute, "the heir", func() bool {
		resp, err := watch.Get("http://" + r.b.listen + "/healthz")
		if err == nil {
			resp.Body.Close()
		}
		return err == nil
	}); err != nil {
		return err
	}
	if err := r.proxy.lead(r.b.listen); err != nil {
		return err
	}
	r.clients.mu.Lock()
	r.clients.file = func(s string) string { return r.b.shop(s, "bellbuoy.db") }
	r.clients.mu.Unlock()
	if err := until(ctx, time.Minute, "pages of the heir", r.answers); err != nil {
		return err
	}
	r.back = time.Since(r.failed)
	return r.b.copyOn()
}

// count looks through what was saved and what was sent.
func (r *round) count() error {
	var have []saved
	steps := map[string]string{} // by Message-ID
	for _, s := range shops {
		err := query(r.b.shop(s, "bellbuoy.db"), func(rows *sql.Rows) error {
			have = append(have, saved{shop: s})
			return rows.Scan(&have[len(have)-1].words)
		}, "SELECT title FROM follow_ups")
		if err != nil {
			return err
		}
		err = query(r.b.shop(s, "bellbuoy.db"), func(rows *sql.Rows) error {
			var id, step string
			err := rows.Scan(&id, &step)
			steps[id] = step
			return err
		}, "SELECT message_id, step FROM outbox")
		if err != nil {
			return err
		}
	}
	held := map[saved]bool{}
	for _, s := range have {
		held[s] = true
	}
	for _, s := range r.clients.saved {
		r.saved++
		if !held[saved{shop: s.shop, words: s.words}] {
			r.lost++
			r.oldestLost = max(r.oldestLost, r.failed.Sub(s.at))
		}
	}
	if err := r.countLetters(steps); err != nil {
		return err
	}
	if r.saved == 0 || r.byA == 0 {
		return fmt.Errorf("nothing was saved or sent, so the round shows nothing: %v", r.clients.codes)
	}
	return nil
}

func (r *round) countLetters(steps map[string]string) error {
	seen, told := map[string]int{}, map[string]int{}
	for _, l := range r.post.letters() {
		if l.from == "a.example" {
			r.byA++
			if l.at.Sub(r.failed) > 30*time.Second {
				r.late++
			}
		} else {
			r.byB++
		}
		id := strings.Trim(l.id, "<>")
		step, known := steps[id]
		if !known {
			r.unknown++
		}
		again := seen[id] > 0
		seen[id]++
		switch step {
		case "confirmation", "booked", "cancellation", "passed-on", "new-address", "correction":
			if again {
				r.confirmationTwice++
			}
		default:
			_, shop, _ := strings.Cut(id, "@")
			same := shop + " " + l.to + " " + l.subj // also where it was made anew, under another Message-ID
			told[same]++
			if again || told[same] > 1 {
				r.remindersTwice = append(r.remindersTwice, step+" "+same)
			}
		}
	}
	return nil
}

// end stops everything that the round started.
func (r *round) end(err *error) {
	for _, m := range []*machine{r.a, r.b} {
		if m == nil {
			continue
		}
		m.kill()
		m.wire.ln.Close()
		if m.log != nil {
			m.log.Close()
		}
	}
	if r.proxy != nil {
		r.proxy.cmd.Process.Signal(syscall.SIGTERM)
		r.proxy.cmd.Wait()
	}
	if r.post != nil {
		r.post.srv.Close()
	}
	if r.storage != nil {
		r.storage.srv.Close()
	}
	if *err != nil {
		for _, name := range []string{"a.log", "b.log"} {
			text, _ := os.ReadFile(filepath.Join(r.dir, name))
			lines := strings.Split(string(text), "\n")
			*err = fmt.Errorf("%w\n%s: %s", *err, name, strings.Join(lines[max(0, len(lines)-15):], "\n"))
		}
	}
}

// until waits for something, looking ten times a second.
func until(ctx context.Context, most time.Duration, what string, is func() bool) error {
	ctx, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	for !is() {
		select {
		case <-ctx.Done():
			return fmt.Errorf("%s: not within %v", what, most)
		case <-time.After(100 * time.Millisecond):
		}
	}
	return nil
}

// summary is what all rounds of a kind come to.
func summary(all []*round) {
	for _, kind := range []string{"crash", "split"} {
		var back []float64
		var saved, lost, twice, repeated, late, letters int
		oldest := time.Duration(0)
		for _, r := range all {
			if r.kind != kind || r.byB == 0 {
				continue
			}
			back = append(back, r.back.Seconds())
			saved, lost, twice, repeated, late = saved+r.saved, lost+r.lost, twice+len(r.remindersTwice), repeated+r.confirmationTwice, late+r.late
			letters += r.byA + r.byB
			oldest = max(oldest, r.oldestLost)
		}
		if len(back) == 0 {
			continue
		}
		slices.Sort(back)
		fmt.Printf("%s, %d rounds: pages back after %.1f to %.1f s, median %.1f; %d of %d saved forms lost, the oldest answered %.2f s before; %d letters, reminders twice %d, confirmations repeated %d, sent by who was replaced %d\n",
			kind, len(back), back[0], back[len(back)-1], back[len(back)/2], lost, saved, oldest.Seconds(), letters, twice, repeated, late)
	}
}

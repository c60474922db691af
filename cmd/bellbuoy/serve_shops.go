package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/robfig/cron/v3"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/cmd/bellbuoy/internal/group"
	"bellbuoy/cmd/bellbuoy/internal/web/site"
)

// shops is a daemon that serves every shop of a folder: one process, one door, the
// host name of a request says whose page is meant. Each shop keeps its own
// settings, database, secret, mail account and staff; what they share is the
// process and its user, so that who runs it can read all of them.
type shops struct {
	a   *cli
	dir string
	log *slog.Logger
	out *oneWriter // where all of them log
	// pages are parsed once for all.
	pages site.Pages

	// atWork holds one for each shop whose turn is under way. Who waits for it
	// gets it in the order of asking, so that a shop with a long night keeps one
	// place taken and no more.
	atWork  chan struct{}
	ticking sync.WaitGroup

	mu     sync.RWMutex
	all    map[string]*shop        // by folder
	host   map[string]*shop        // those that are open, by host name
	groups map[string]*group.Group // by the folder of each of their shops
	fault  error                   // what is wrong with the file of groups
}

// shop is one of them.
type shop struct {
	folder string
	fault  error // why it is not open; the rest is nil then
	app    *app.App
	*rereader
	turnAsked atomic.Bool // waits for its turn, or is at it
}

// turnsAtOnce is how many shops work at a time: planning takes a whole processor, and
// with more than there are, pages wait longer and the night is no shorter. A shop that
// waits for another machine gives its place away meanwhile.
func turnsAtOnce() int { return max(2, runtime.GOMAXPROCS(0)) }

// oneWriter lets several logs write whole lines to one place.
type oneWriter struct {
	mu sync.Mutex
	w  io.Writer
}

func (o *oneWriter) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.w.Write(p)
}

// serveShops serves all shops of a folder until ctx ends.
func (a *cli) serveShops(ctx context.Context, dir, listen string) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	last := graceAfter(ctx, stopGrace)
	out := &oneWriter{w: a.err}
	s := &shops{
		a: a, dir: dir, out: out, log: slog.New(slog.NewTextHandler(out, nil)), atWork: make(chan struct{}, turnsAtOnce()),
		all: make(map[string]*shop), host: make(map[string]*shop),
	}
	s.readGroups()
	if err := s.openAll(ctx); err != nil {
		return err
	}
	defer s.close()
	ln, err := net.Listen("tcp", listen)
	if err != nil {
		return hinted{fmt.Errorf("listen on %q: %w", listen, err), "another program may have the port; choose one with --listen"}
	}
	srv := site.NewServer(s, s.log)
	ticks := cron.New(cron.WithChain(cron.Recover(cronLog{s.log})))
	ticks.Schedule(cron.Every(30*time.Second), cron.FuncJob(func() { s.tickAll(ctx) }))
	s.tickAll(ctx)
	ticks.Start()
	defer s.onHangup(ctx)()
	program := thisProgram()
	s.log.Info("bellbuoy", "version", program.Version, "revision", program.Revision, "go", program.Go)
	s.log.Info("shops", "open", len(s.host), "not_open", len(s.all)-len(s.host))
	s.log.Info("answering", "address", "http://"+ln.Addr().String())
	err = site.Serve(ctx, srv, func() error { return srv.Serve(ln) }, stopGrace)
	stop()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		<-ticks.Stop().Done()
		s.ticking.Wait()
		for _, sh := range s.open() {
			sh.ticks.sending.Wait()
		}
	}()
	select {
	case <-ended:
	case <-last:
		s.log.Warn("a tick did not end in time; it is picked up at the next start")
	}
	s.log.Info("stopped")
	return err
}

// openAll opens every shop of the folder that is not open yet, a few at a time. A
// shop with a fault is logged and left out; the error is about the folder.
func (s *shops) openAll(ctx context.Context) error {
	entries, err := os.ReadDir(s.dir)
	if err != nil {
		return fmt.Errorf("shops: %w", err)
	}
	var opening sync.WaitGroup
	places := make(chan struct{}, turnsAtOnce())
	opened := make([]*shop, len(entries))
	for i, e := range entries {
		settings := filepath.Join(s.dir, e.Name(), "bellbuoy.toml")
		if _, err := os.Stat(settings); err != nil {
			continue // no shop's folder
		}
		s.mu.RLock()
		before := s.all[e.Name()]
		s.mu.RUnlock()
		if before != nil && before.fault == nil {
			continue
		}
		places <- struct{}{}
		opening.Go(func() {
			defer func() { <-places }()
			opened[i] = s.openShop(ctx, e.Name(), settings)
		})
	}
	opening.Wait()
	for _, sh := range opened {
		if sh != nil {
			s.put(sh)
		}
	}
	s.mu.RLock()
	defer s.mu.RUnlock()
	if len(s.all) == 0 {
		return hinted{fmt.Errorf("shops: %s has no folder with a bellbuoy.toml in it", s.dir), `"bellbuoy init" makes one`}
	}
	return nil
}

// openShop opens one shop; what is wrong with it is its fault.
func (s *shops) openShop(ctx context.Context, folder, settings string) *shop {
	sh := &shop{folder: folder}
	sh.fault = func() error {
		c, err := config.Load(settings)
		if err != nil {
			return err
		}
		if name := c.Host(); name == "localhost" || net.ParseIP(name) != nil {
			return fmt.Errorf("settings: shop.url: %s: each shop of a folder needs a host name of its own, as https://service.example.com", c.Shop.URL)
		}
		h, err := openDatabase(ctx, c, true)
		if err != nil {
			return err
		}
		h.Away = func() (back func()) {
			<-s.atWork
			return func() { s.atWork <- struct{}{} }
		}
		level := new(slog.LevelVar)
		level.Set(c.Serve.Level())
		log := slog.New(slog.NewTextHandler(s.out, &slog.HandlerOptions{Level: level})).With("shop", folder)
		if sh.rereader, err = s.a.stand(ctx, h, daemon{settings: settings, group: func() (*group.Group, string) { return s.groupOf(folder), folder }, pages: &s.pages}, log, level); err != nil {
			return errors.Join(err, h.Close())
		}
		sh.app = h
		return nil
	}()
	return sh
}

// put takes a shop among the others; a host name is that of the first folder.
func (s *shops) put(sh *shop) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if sh.fault == nil {
		name := strings.ToLower(sh.app.Config.Host())
		if other := s.host[name]; other == nil {
			s.host[name] = sh
		} else {
			sh.fault = errors.Join(fmt.Errorf("settings: shop.url: the host %s is that of %s already", name, other.folder), sh.app.Close())
		}
	}
	s.all[sh.folder] = sh
	if sh.fault != nil {
		s.log.Error("this shop is not open; the others are", "shop", sh.folder, "error", sh.fault)
	}
}

// readGroups reads which shops belong together. A fault in the file leaves the
// groups as they were.
func (s *shops) readGroups() {
	all, err := config.LoadGroups(s.dir)
	groups := make(map[string]*group.Group)
	for _, of := range all {
		g := &group.Group{Group: of, Members: func() []group.Member { return s.members(of.Shops) }}
		for _, folder := range of.Shops {
			groups[folder] = g
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fault = err; err != nil {
		s.log.Error("groups not taken; they stay as they were", "error", err)
		return
	}
	s.groups = groups
}

func (s *shops) groupOf(folder string) *group.Group {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.groups[folder]
}

// members are shops of a group as they are now.
func (s *shops) members(folders []string) []group.Member {
	s.mu.RLock()
	defer s.mu.RUnlock()
	all := make([]group.Member, len(folders))
	for i, folder := range folders {
		all[i].Folder = folder
		if sh := s.all[folder]; sh != nil && sh.fault == nil {
			all[i].App = sh.shop()
		}
	}
	return all
}

// open are the shops that are open, by folder.
func (s *shops) open() []*shop {
	s.mu.RLock()
	defer s.mu.RUnlock()
	all := make([]*shop, 0, len(s.host))
	for _, sh := range s.host {
		all = append(all, sh)
	}
	slices.SortFunc(all, func(a, b *shop) int { return strings.Compare(a.folder, b.folder) })
	return all
}

func (s *shops) close() {
	for _, sh := range s.open() {
		if err := sh.app.Close(); err != nil {
			s.log.Error("close", "shop", sh.folder, "error", err)
		}
	}
}

// tickAll asks for a turn of every shop that does not wait for one already. Memory is
// given back once for all of them: to look for it goes through the memory of every
// shop.
func (s *shops) tickAll(ctx context.Context) {
	var round sync.WaitGroup
	var long atomic.Bool
	for _, sh := range s.open() {
		if !sh.turnAsked.CompareAndSwap(false, true) {
			continue
		}
		round.Add(1)
		s.ticking.Go(func() {
			defer round.Done()
			defer sh.turnAsked.Store(false)
			select {
			case s.atWork <- struct{}{}:
			case <-ctx.Done():
				return
			}
			defer func() { <-s.atWork }()
			defer func() {
				if fault := recover(); fault != nil { // of one shop's data; the others go on
					s.log.Error("a tick broke off", "shop", sh.folder, "error", fmt.Sprint(fault))
				}
			}()
			s.groupTurn(ctx, sh)
			if sh.ticks.once(ctx) {
				long.Store(true)
			}
		})
	}
	s.ticking.Go(func() {
		round.Wait()
		if long.Load() {
			debug.FreeOSMemory()
		}
	})
}

// groupTurn does what a shop owes its group, before anything of its own turn is decided
// or sent: boats go on that are on their way to a sister shop, and what was said in
// sister shops about emails holds here too, where the group wants that.
func (s *shops) groupTurn(ctx context.Context, sh *shop) {
	g := s.groupOf(sh.folder)
	if g == nil {
		return
	}
	h := sh.shop()
	if err := g.Resume(ctx, s.a.clock(h)(), h); err != nil && ctx.Err() == nil {
		sh.log.ErrorContext(ctx, "a boat on its way to a sister shop; it is tried again", "error", err)
	}
	if !g.ShareStops {
		return
	}
	for _, m := range g.Members() {
		if m.App == nil || m.Folder == sh.folder {
			continue
		}
		n, err := h.TakeOverStops(ctx, s.a.clock(h)(), m.App)
		switch {
		case err != nil && ctx.Err() == nil:
			sh.log.ErrorContext(ctx, "take over stops of a sister shop; it is tried again", "of", m.Folder, "error", err)
		case n > 0:
			sh.log.InfoContext(ctx, "took over stops of a sister shop", "of", m.Folder, "changed", n)
		}
	}
}

// onHangup reads all settings again, and opens what could not be opened before or
// is new, until ctx ends; the function returned stops listening.
func (s *shops) onHangup(ctx context.Context) (stop func()) {
	hangup := make(chan os.Signal, 1)
	signal.Notify(hangup, syscall.SIGHUP)
	asked := time.NewTicker(askedEvery)
	go func() {
		for {
			select {
			case <-ctx.Done():
				return
			case <-hangup:
				for _, sh := range s.open() {
					_ = sh.readLogged(ctx) // the log has said it
				}
				s.readGroups()
				if err := s.openAll(ctx); err != nil {
					s.log.Error("look for shops", "error", err)
				}
				s.tickAll(ctx)
			case <-asked.C:
				for _, sh := range s.open() {
					if err := sh.answer(ctx); err != nil && ctx.Err() == nil {
						sh.log.ErrorContext(ctx, "look whether the settings are to be read again", "error", err)
					}
				}
			}
		}
	}()
	return func() {
		asked.Stop()
		signal.Stop(hangup)
	}
}

// ServeHTTP hands a request to the shop whose host name it bears.
func (s *shops) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	name := hostName(r.Host)
	s.mu.RLock()
	sh := s.host[name]
	s.mu.RUnlock()
	switch {
	case sh != nil:
		sh.handler.ServeHTTP(w, r)
	case r.URL.Path == "/healthz" && (name == "localhost" || net.ParseIP(name).IsLoopback()):
		s.health(w)
	default:
		http.Error(w, "No shop has this address.", http.StatusMisdirectedRequest)
	}
}

// hostName is a request's host without its port, in small letters.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// health lists the shops, a line each, for whoever watches the machine: a shop's
// own name is asked only by its own host. It answers 503 where one is not well.
func (s *shops) health(w http.ResponseWriter) {
	s.mu.RLock()
	folders := make([]*shop, 0, len(s.all))
	for _, sh := range s.all {
		folders = append(folders, sh)
	}
	fault := s.fault
	s.mu.RUnlock()
	slices.SortFunc(folders, func(a, b *shop) int { return strings.Compare(a.folder, b.folder) })
	status := http.StatusOK
	var text strings.Builder
	if fault != nil {
		status = http.StatusServiceUnavailable
		fmt.Fprintf(&text, "%s: %s\n", config.GroupsFile, strings.ReplaceAll(fault.Error(), "\n", "; "))
	}
	for _, sh := range folders {
		state := "ok"
		switch {
		case sh.fault != nil:
			state = "not open: " + strings.ReplaceAll(sh.fault.Error(), "\n", "; ")
		case !sh.ticks.pulse.Well(s.a.env.now()):
			state = "planning and reminders fail; the log says why"
		}
		if state != "ok" {
			status = http.StatusServiceUnavailable
		}
		fmt.Fprintf(&text, "%s: %s\n", sh.folder, state)
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	_, _ = io.WriteString(w, text.String())
}

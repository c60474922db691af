package main

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// cost measures what shops that nobody uses cost a machine: memory, writes, and what is
// asked of the storage.
func cost(ctx context.Context, r *round, n int, minutes time.Duration) (err error) {
	shops = shops[:1]
	if err := os.MkdirAll(r.dir, 0o700); err != nil {
		return err
	}
	defer r.end(&err)
	if r.storage, err = serveStorage(); err != nil {
		return err
	}
	if r.post, err = servePost(); err != nil {
		return err
	}
	w, err := layWire("127.0.0.2", r.storage.addr)
	if err != nil {
		return err
	}
	a := &machine{name: "a.example", dir: filepath.Join(r.dir, "a"), listen: fmt.Sprint("127.0.0.2:", freePort()), wire: w, path: "/a", tools: r.tools}
	r.a = a
	if a.log, err = os.Create(filepath.Join(r.dir, "a.log")); err != nil {
		return err
	}
	if err := a.settle(r.post.addr); err != nil {
		return err
	}
	if err := a.fill(ctx); err != nil {
		return err
	}
	if err := a.run(ctx, "north", "", "mail", "off"); err != nil {
		return err
	}
	filled, err := os.ReadFile(a.shop("north", "bellbuoy.db"))
	if err != nil {
		return err
	}
	for i := 1; i < n; i++ {
		shops = append(shops, fmt.Sprint("shop", i))
	}
	if err := a.settle(r.post.addr); err != nil {
		return err
	}
	for _, s := range shops[1:] {
		if err := os.WriteFile(a.shop(s, "bellbuoy.db"), filled, 0o600); err != nil {
			return err
		}
	}
	if err := a.copyOn(); err != nil {
		return err
	}
	if err := a.serve(); err != nil {
		return err
	}
	time.Sleep(3 * time.Minute) // first copies, first turns
	before, wrote := r.storage.counts(), written(a)
	time.Sleep(minutes)
	after := r.storage.counts()
	fmt.Printf("%d shops of %s, idle for %v: daemon %d MB resident, litestream %d MB; they wrote %.1f MB to the disk\n",
		n, files, minutes, resident(a.daemon.Process.Pid), resident(a.replicate.Process.Pid), float64(written(a)-wrote)/1e6)
	total := map[string]int{}
	for k, v := range after {
		method, of, _ := strings.Cut(k, " ")
		if of != "lease" {
			of = "replicas"
		}
		total[method+" "+of] += v - before[k]
	}
	for _, k := range slices.Sorted(maps.Keys(total)) {
		fmt.Printf("%s: %d, an hour %.0f\n", k, total[k], float64(total[k])/minutes.Hours())
	}
	return nil
}

// resident is a process's memory, in megabytes.
func resident(pid int) int { return int(field(pid, "status", `VmRSS:\s+(\d+)`) / 1024) }

// written is what a machine's processes had the disk write, in bytes.
func written(m *machine) int64 {
	return field(m.daemon.Process.Pid, "io", `\bwrite_bytes: (\d+)`) + field(m.replicate.Process.Pid, "io", `\bwrite_bytes: (\d+)`)
}

func field(pid int, file, pattern string) int64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pid, file))
	if err != nil {
		return 0
	}
	m := regexp.MustCompile(pattern).FindSubmatch(text)
	if m == nil {
		return 0
	}
	v, _ := strconv.ParseInt(string(m[1]), 10, 64) // digits
	return v
}

// Command bellbuoy turns each sold boat's service history into a dated,
// explained maintenance plan, fits it into the shop's weeks, publishes calendar
// feeds, reminds the customers and shows the desk what is due.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
	_ "time/tzdata" // a shop's zone must be known on machines without zone files
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second Ctrl-C ends the program at once
	}()
	remove := ownScratch(time.Now())
	code := run(ctx, env{in: os.Stdin, out: os.Stdout, err: os.Stderr, now: time.Now}, os.Args[1:])
	stop()
	remove()
	os.Exit(code)
}

// Command deadhop finds the hop at which a video signal dies: it is both ends
// of the HDMI cable on a Linux bench machine.
//
// Each verb has its own file. A verb parses, calls the packages and prints;
// what it knows of hardware and of diagnosis it knows through package ddc and
// package chain, which do not know each other.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, os.Args[1:], systemStreams())
	stop()
	os.Exit(int(code))
}

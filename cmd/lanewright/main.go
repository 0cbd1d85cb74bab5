// Command lanewright takes a slot-car club from a plan on tables to a fair night with results nobody argues about.
//
// It is wiring only: flags become calls, answers become text or JSON, errors become exit codes. No rule of racing lives here.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	code := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// run is the whole program without the process: it returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errs io.Writer) int {
	root := rootCommand()
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errs)
	err := execute(ctx, root)
	return exitCode(ctx, err)
}

package main

import (
	"context"
	"errors"
	"io"

	"charm.land/fang/v2"
	"charm.land/lipgloss/v2"
	"github.com/spf13/cobra"
)

// version is set when a release is built: -ldflags "-X main.version=1.2.3".
var version = "unreleased"

func rootCommand() *cobra.Command {
	var club clubOptions
	root := &cobra.Command{
		Use:   "lanewright",
		Short: "From a plan on tables to a fair race night",
		Long: "Checks that a slot-car layout closes and fits, measures every lane, draws a fair rotation,\n" +
			"reads every pass from a serial lap counter, runs the heats and keeps the night in one file.\n\n" +
			"Alone it opens the club's race night: the one under way, or a new one set up as the last one was.",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(cmd, args[0])
			}
			return openClub(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), club)
		},
		SuggestionsMinimumDistance: 2,

		SilenceUsage:  true,
		SilenceErrors: true,
	}
	clubFlags(root, &club)
	root.AddCommand(demoCommand(), nightCommand(), layoutCommand(), rotationCommand(), counterCommand(), boardCommand(), speedsCommand(),
		seasonCommand(), recordsCommand(), driversCommand(), storeCommand())
	return root
}

// execute runs the command through the command library, which brings help, completions and man pages. Errors are kept from it:
// before it prints one it asks the terminal for its colours, and one that does not answer is waited for.
func execute(ctx context.Context, root *cobra.Command) error {
	var failed error
	keepErrors(root, &failed)
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error {
		failed = err
		return nil
	})
	err := fang.Execute(ctx, root,
		fang.WithVersion(version),
		fang.WithoutVersion(),
		fang.WithErrorHandler(printError),
	)
	if failed != nil {
		printError(root.ErrOrStderr(), fang.Styles{}, failed)
		return failed
	}
	return err
}

// keepErrors lets every command below cmd put its error into failed instead of returning it.
func keepErrors(cmd *cobra.Command, failed *error) {
	if run := cmd.RunE; run != nil {
		cmd.RunE = func(cmd *cobra.Command, args []string) error {
			if *failed == nil {
				*failed = run(cmd, args)
			}
			return nil
		}
	}
	if check := cmd.Args; check != nil {
		cmd.Args = func(cmd *cobra.Command, args []string) error {
			*failed = check(cmd, args)
			return nil
		}
	}
	for _, c := range cmd.Commands() {
		keepErrors(c, failed)
	}
}

// printError writes one plain line: a command whose answer is no has said so already.
func printError(w io.Writer, _ fang.Styles, err error) {
	if errors.Is(err, errAnswerNo) {
		return
	}
	lipgloss.Fprintln(w, "lanewright: "+err.Error())
}

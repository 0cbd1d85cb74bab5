package main

import (
	"fmt"
	"net"
	"time"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/tui"
	"lanewright/tui/page"
)

func boardCommand() *cobra.Command {
	var address string
	cmd := &cobra.Command{
		Use:   "board FILE [NIGHT]",
		Short: "Serve a night of a store as a read-only page for a television or phones",
		Long: "Shows a night that no other program is running: its last state, standings and heats ahead. While a night runs, start\n" +
			"the page from the screens (key w) or with --board of `night run`. The page answers on this machine only, unless\n" +
			"--address names another of its addresses; everybody on that network can then look on.",
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			night, err := pickNight(s, args[1:])
			if err == nil {
				err = s.Close()
			}
			if err != nil {
				return err
			}
			feed := tui.NewFeed()
			feed.Publish(frozen(night.Snapshot(night.ended)))
			server, err := page.Serve(address, page.New(page.Options{Feed: feed}))
			if err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), server.URL)
			warnOpen(cmd.ErrOrStderr().Write, address)
			return server.Wait(cmd.Context())
		},
	}
	cmd.Flags().StringVar(&address, "address", "127.0.0.1:8040", "where to answer; port 0 takes a free one")
	return cmd
}

// frozen stops the clock of a night that nobody runs.
func frozen(s *race.Snapshot) *race.Snapshot {
	s.Clock.Ticking, s.Clock.Until = false, time.Time{}
	return s
}

// warnOpen says so when a page is open to more than this machine.
func warnOpen(write func([]byte) (int, error), address string) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		return
	}
	_, _ = write([]byte("everybody on the network of " + address + " can look on\n"))
}

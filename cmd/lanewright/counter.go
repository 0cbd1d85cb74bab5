package main

import (
	"cmp"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"lanewright/timing/describe"
	"lanewright/timing/listen"
	"lanewright/timing/port"
)

func counterCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "counter",
		Short: "Find, watch and record a lap counter, or guess how it speaks",
		Long: "Our own sentences are described in the README; any other counter needs a line description (TOML).\n\n" +
			"Track power and mains: use ready-made, approved low-voltage supplies, keep to local electrical rules, and leave the\n" +
			"inside of a supply to qualified people. Cutting power from here is a convenience for racing, never a safety device.",
	}, counterPortsCommand(), counterWatchCommand(), counterRecordCommand(), counterGuessCommand())
}

func counterPortsCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "ports",
		Short: "The serial ports of this computer",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			found, err := port.List()
			if err != nil {
				return &portError{fmt.Errorf("cannot list the serial ports: %w; a port's name can be given all the same", err)}
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), append([]port.Found{}, found...))
			}
			for _, f := range found {
				fmt.Fprintf(cmd.OutOrStdout(), "%s  %s\n", pad(cmp.Or(f.Stable, f.Path), 60), cmp.Or(f.Product, f.Path))
			}
			if len(found) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), "no serial port found; plug the counter in, or name a device yourself")
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the ports as JSON")
	return cmd
}

// lineOptions say where a counter is and how it speaks.
type lineOptions struct {
	port, describe string
	baud           int
}

func lineFlags(cmd *cobra.Command, o *lineOptions) {
	cmd.Flags().StringVar(&o.port, "port", "", "serial device of the counter (see: lanewright counter ports)")
	cmd.Flags().StringVar(&o.describe, "describe", "", "line description of a counter that does not speak our own sentences (TOML)")
	cmd.Flags().IntVar(&o.baud, "baud", 0, "speed of the line (default: as the description says, else 115200)")
}

// config makes the listener's configuration.
func (o lineOptions) config() (listen.Config, error) {
	if o.port == "" {
		return listen.Config{}, errors.New("no counter: name its serial device with --port; see: lanewright counter ports")
	}
	c := listen.Config{Name: "counter", Port: port.Config{Name: o.port}}
	if o.describe != "" {
		format, err := readDescription(o.describe)
		if err != nil {
			return c, err
		}
		c.Format, c.Port.Mode = format, format.Port
	}
	c.Port.Mode.Baud = cmp.Or(o.baud, c.Port.Mode.Baud)
	return c, nil
}

// readDescription reads a line description.
func readDescription(path string) (*describe.Description, error) {
	data, err := readSmall(path)
	if err != nil {
		return nil, err
	}
	return describe.Parse(path, data)
}

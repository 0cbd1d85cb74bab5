// Package wire is the open sentence protocol between a lap counter and this
// program: bytes to fields and back. It has no clock, no goroutine and does no
// I/O. What follows is the whole specification; a microcontroller that does
// what it says is a full counter.
//
// # Lines
//
// 8 data bits, no parity, one stop bit; 115200 baud unless agreed otherwise.
// One sentence a line, framed as NMEA 0183 made common:
//
//	$LWPAS,1207,1,3,0,48211734*4D<CR><LF>
//
// '$', an address of five letters, fields parted by commas, '*', two
// hexadecimal digits, CR LF. The digits are the exclusive or of all bytes
// strictly between '$' and '*'. A sentence has at most 82 bytes, '$' and CR LF
// included, all printable ASCII; '$' and '*' occur nowhere else. Numbers are
// decimal without sign; a mask is hexadecimal without prefix, bit 0 is lane 1.
// A receiver takes lower-case hexadecimal digits, a lone CR or LF and LF CR;
// it ignores fields behind those it knows, addresses it does not know, and every
// line whose check is wrong. After any '$' a new sentence begins.
//
// # What a counter says
//
//	LWCAP,version,boot,name,lanes,sensors,num,den,bits,ring,power,lamps
//	LWPAS,serial,sensor,lane,car,ticks
//	LWBEA,boot,last,ticks
//	LWPWR,id,mask,ticks
//	LWLMP,id,lit,go,ticks
//	LWEND,from,first,last
//	LWNTD,id
//	LWNOT,id
//
// CAP, capabilities: sent first of all after a restart, and when asked.
// version is 1. boot is a number that differs after every restart (a stored
// count, or a random one), 0 if that cannot be had. name is free text without
// comma. num/den are the ticks per second (1000000,1 is one tick a
// microsecond); ticks count up from any value and wrap at 2^bits, which should
// take ten minutes or more. ring is how many passes can be said again. power is
// 1 if lane power can be switched, lamps is the number of start lamps.
//
// PAS, a pass: serial is the running number of passes, from 1 after a
// restart, without gaps. sensor 1 is the timing line. lane counts from 1, 0 if
// cars and not lanes are told apart; then car counts from 1. ticks is the
// moment of the pass. Passes are sent in the order of their numbers.
//
// BEA, a beat: once a second. ticks is now, last the number of the newest
// pass, so that the loss of the last pass before a quiet spell is noticed too.
// Everything that happened before ticks has been sent before the beat.
//
// PWR and LMP acknowledge SPW and SLM (below) and say at which tick they took
// effect. A counter that cuts power by itself (overload, a stop button) says so
// with PWR and id 0.
//
// NTD: command id is noted and will be done at its tick. END closes the answer to
// AGN. NOT: command id is not possible here.
//
// # What a counter is told
//
//	LWQCP
//	LWSPW,id,mask[,at]
//	LWSLM,id,lit,go[,at]
//	LWAGN,from
//
// QCP asks for CAP. A counter answers every command within half a second. One that
// cannot hear at all sends CAP every ten seconds and has a ring of 0.
//
// SPW sets the power of all lanes: on where the bit is set. SLM lights the
// first lit start lamps; go is 0 for lamps only, 1 when this is the start of a
// heat, 2 when a stopped heat goes on. Both are answered by PWR or LMP with
// the same id. With a field at, the command is done when the counter stands at
// that tick, at once if that is past (less than half a wrap behind); the
// answer comes then, and NTD at once. The newest command of a kind replaces a
// waiting one. A command whose id is that of the last one done of its kind is not
// done again but answered again with the same words; one whose id is that of the
// waiting one is answered by NTD again. So the sender may repeat itself until it is
// answered, and nothing is done twice.
//
// AGN, say again: the counter sends PAS for every pass it still holds, from
// number from on, word for word as the first time, then END with from as it
// was asked, first the first number it sent (last+1 if none) and last the number of
// the newest pass. Numbers from from to first-1 are gone. A counter holds at
// least the last 32 passes, 256 are better. Asked from a number beyond the newest,
// it sends END alone.
//
// Switching lane power over a line is a convenience of racing. It is not a
// safety device: an emergency stop must cut the supply by itself, without a
// program.
package wire

// Version of the protocol that this package speaks.
const Version = 1

// LenMax is the longest sentence in bytes, '$' and CR LF included.
// Source: the limit of NMEA 0183 (from memory).
const LenMax = 82

#pragma once
/// A record at a lower rate added to one at the full rate. The part of a pulse below its split has no high frequencies,
/// and its windows are long: at a fifth of the rate they cost a fifth.

#include "sim/engine/pair_record.h"

namespace echoloom {

/// How many times lower a rate may be for echoes up to `highest_Hz`: a whole number, with a tenth to spare.
int decimation_for(double highest_Hz, double sampling_rate_Hz);

/// An empty record at a lower rate that holds what `record` wants; `room` of its samples beyond, on both sides.
PairRecord decimated_layout(const PairRecord& record, int decimation, int room);

/// Adds each pair's row of `low`, interpolated exactly (by Fourier transform), where the two overlap. Rows are each one
/// thread's.
void add_upsampled(const PairRecord& low, int decimation, int threads, PairRecord& record);

}  // namespace echoloom

"""Lists over all jobs: what today holds, the days ahead, the data sheets."""

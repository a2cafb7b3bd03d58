"""Fleet: thousands of flats or a million homes, thin and dirty records, screened, asked about and planned in bulk.

A mapping says which column is which fact (``mapping``); rows come from tables or from a folder of surveys (``sources``)
and become surveys in which what is missing is unknown (``records``, ``thin_survey``). Surveys of one structure are planned
once (``structure``, ``outcome``), those that differ in lengths alone together (``alike``). ``run`` does all of it in
chunks, on this machine's cores or on a Dask cluster, and goes on where it was stopped; ``report`` shows what came out.
Nothing is decided here that ``subbase.plan`` does not decide. Import the modules themselves: this package loads nothing.
"""

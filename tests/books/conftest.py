"""A property holds however long it takes: no test here is timed."""

from hypothesis import HealthCheck, Phase, settings

settings.register_profile("untimed", deadline=None)
settings.register_profile(
    "long",
    deadline=None,
    max_examples=100,
    stateful_step_count=60,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    print_blob=True,
)
settings.register_profile(
    "mutants",
    deadline=None,
    max_examples=25,
    derandomize=True,
    database=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
settings.load_profile("untimed")

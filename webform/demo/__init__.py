"""The demo shop: an invented shop in an invented town, with invented people, calls and jobs."""

from webform.demo.calls import DEMO_CALLS
from webform.demo.prepare import NotADemoError, demo_config, fill, prepare_demo
from webform.demo.shop import SHOP

__all__ = ["DEMO_CALLS", "SHOP", "NotADemoError", "demo_config", "fill", "prepare_demo"]
